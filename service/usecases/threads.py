"""Long work in worker threads, one piece at a time each, so that the event loop can answer checks meanwhile."""

import asyncio
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import ParamSpec, TypeVar

from service.engine.grade import CompiledGrade

P = ParamSpec("P")
T = TypeVar("T")
_THREAD = ThreadPoolExecutor(max_workers=1, thread_name_prefix="apart")
"""One thread: with the GIL two searches at a time take as long as one after the other, and slow checks down more."""
# Apart from the other, so that the decoding of readings does not wait for a search for plans.
_READER = ThreadPoolExecutor(max_workers=1, thread_name_prefix="reader")


async def run_in_thread(work: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> T:
    """Run work in the thread and return its result; it must not touch data that the event loop may change."""
    return await asyncio.get_running_loop().run_in_executor(_THREAD, lambda: work(*args, **kwargs))


async def read_in_thread(read: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> T:
    """Run the decoding of a long body in a second thread."""
    return await asyncio.get_running_loop().run_in_executor(_READER, lambda: read(*args, **kwargs))


async def by_grade(grade: CompiledGrade, work: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> T:
    """Run work in the thread if the grade has plans to search for, else directly."""
    # Judging is fastest on the event loop; only a search for a plan may take long.
    return await run_in_thread(work, *args, **kwargs) if grade.searches_plans else work(*args, **kwargs)
