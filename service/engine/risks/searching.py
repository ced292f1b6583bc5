"""Where a claim that holds up to some number stops to hold."""

from collections.abc import Callable


def last_that_holds(holds: Callable[[int], bool], near: int) -> int:
    """The greatest whole number for which the claim holds, if it holds for all smaller ones and fails for some greater one.

    near  where to begin: the search takes about twice the logarithm of how far off that is
    """
    step = 1
    while not holds(near):
        near -= step
        step *= 2
    low, high = near, near + 1
    step = 1
    while holds(high):
        low, high = high, high + step
        step *= 2
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if holds(middle) else (low, middle)
    return low
