"""Bisection over whole numbers."""

from collections.abc import Callable


def last_that_holds(holds: Callable[[int], bool], near: int) -> int:
    """The greatest whole number for which a claim holds that holds for all smaller ones and fails from some number on.

    near  a guess; the search makes about twice the binary logarithm of its error in calls
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
