"""Lists that are read a part at a time."""

from collections.abc import Awaitable, Callable, Sequence
from typing import TypeVar

T = TypeVar("T")
MOST_AT_ONCE = 100


async def part(read: Callable[[int], Awaitable[Sequence[T]]], limit: int) -> tuple[Sequence[T], T | None]:
    """At most so many, and the last of them, to go on after it; None instead where these were all.

    read  gives as many as it is asked for, or all where there are fewer
    """
    # One more than is shown, which tells whether there are more.
    found = await read(limit + 1)
    return found[:limit], found[limit - 1] if len(found) > limit else None


def part_of(every: Sequence[T], after: int, limit: int) -> tuple[Sequence[T], int]:
    """At most so many of what is in memory behind the first `after` ones, and the number to go on after; 0 at the end."""
    found = every[after : after + limit]
    return found, after + len(found) if found and after + len(found) < len(every) else 0
