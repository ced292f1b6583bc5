"""Pages of lists."""

from collections.abc import Awaitable, Callable, Sequence
from typing import TypeVar

T = TypeVar("T")
MOST_AT_ONCE = 100


async def part(read: Callable[[int], Awaitable[Sequence[T]]], limit: int) -> tuple[Sequence[T], T | None]:
    """Return a page of at most `limit` items, and its last item to continue after; None in its place on the last page.

    read  returns the first n items after the position of the page, fewer at the end
    """
    # One more than is returned shows whether there is another page, without a second query.
    found = await read(limit + 1)
    return found[:limit], found[limit - 1] if len(found) > limit else None


def part_of(every: Sequence[T], after: int, limit: int) -> tuple[Sequence[T], int]:
    """Return at most `limit` items behind the first `after` ones, and the number to continue after; 0 on the last page."""
    found = every[after : after + limit]
    return found, after + len(found) if found and after + len(found) < len(every) else 0
