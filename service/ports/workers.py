"""Port of worker pools, which do work in parallel on all cores or on other machines."""

import asyncio
from collections.abc import Callable
from contextlib import AbstractAsyncContextManager
from typing import Protocol, TypeVar

from service.ports.catalogue import StateError

P = TypeVar("P")
R = TypeVar("R")


class WorkersBusyError(StateError):
    """All worker pools that may exist at one time are in use."""


class WorkersAwayError(StateError):
    """The workers can't be reached, or were lost."""


class WorkerPool(Protocol):
    """A pool of workers for one question."""

    @property
    def capacity(self) -> int:
        """Number of pieces in flight that keeps all workers busy."""

    def submit(self, work: Callable[[P], R], piece: P) -> "asyncio.Future[R]":
        """Submit a piece; the future raises WorkersAwayError, and whatever the work raises.

        work  a pure function at module level; it and its piece are pickled
        """


class Workers(Protocol):
    """A source of worker pools."""

    def pool(self) -> AbstractAsyncContextManager[WorkerPool]:
        """Open a pool; leaving it cancels all unfinished work. Raises WorkersBusyError, WorkersAwayError."""
