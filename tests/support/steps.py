"""Counts the steps that some work takes, in whatever thread of the service's it is done: the same at every run."""

import sys
from collections.abc import Awaitable
from types import FrameType
from typing import Any, TypeVar

from service.usecases.threads import run_in_thread

T = TypeVar("T")
IN_PROPORTION = frozenset(
    {
        "index",
        "count",
        "copy",
        "sort",
        "remove",
        "insert",
        "reverse",
        "split",
        "splitlines",
        "replace",
        "join",
        "casefold",
        "lower",
    }
)
"""Methods of C's that go through all that their object holds."""
ITEMS = 16
SIZED = (list, tuple, str, bytes, dict, set, frozenset)


class Steps:
    """Lines of Python, and items that C goes through in one call, as many of them for a line as take its time."""

    def __init__(self) -> None:
        """None yet."""
        self._lines, self._items = 0, 0

    @property
    def total(self) -> int:
        """So many are counted."""
        return self._lines + self._items // ITEMS

    async def of(self, work: Awaitable[T]) -> T:
        """What the work comes to, with its steps counted here."""
        await self._switch(self._trace, self._profile)
        try:
            return await work
        finally:
            await self._switch(None, None)

    @staticmethod
    async def _switch(trace: Any, profile: Any) -> None:
        """Here, and in the thread for what takes long."""
        await run_in_thread(sys.settrace, trace)
        await run_in_thread(sys.setprofile, profile)
        sys.settrace(trace)
        sys.setprofile(profile)

    def _trace(self, _frame: FrameType, event: str, _about: object) -> Any:
        self._lines += event == "line"
        return self._trace

    def _profile(self, _frame: FrameType, event: str, called: Any) -> None:
        if event == "c_call" and called.__name__ in IN_PROPORTION and isinstance(called.__self__, SIZED):
            self._items += len(called.__self__)
