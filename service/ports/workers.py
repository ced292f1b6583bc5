"""What use cases need to have much work done at the same time, on all cores or on other machines."""

import asyncio
from collections.abc import Callable
from contextlib import AbstractAsyncContextManager
from typing import Protocol, TypeVar

from service.ports.catalogue import StateError

P = TypeVar("P")
R = TypeVar("R")


class WorkersBusyError(StateError):
    """As much is being worked on as may be at a time."""


class WorkersAwayError(StateError):
    """Those who are to do the work can't be reached, or have gone."""


class Team(Protocol):
    """Some who work until they are sent home."""

    @property
    def at_once(self) -> int:
        """So many pieces keep them all busy."""

    def begin(self, work: Callable[[P], R], piece: P) -> "asyncio.Future[R]":
        """What becomes of a piece; it raises WorkersAwayError, and what the work raises.

        work  a function of a module, without side effects; it and its piece go elsewhere as bytes
        """


class Workers(Protocol):
    """Where teams come from."""

    def team(self) -> AbstractAsyncContextManager[Team]:
        """A team; at the end all that it still does is broken off. Raises WorkersBusyError, WorkersAwayError."""
