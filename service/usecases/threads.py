"""Work that may take long goes to a thread of its own, one at a time: who asks for a check is answered meanwhile."""

import asyncio
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import ParamSpec, TypeVar

from service.engine.grade import CompiledGrade

P = ParamSpec("P")
T = TypeVar("T")
_THREAD = ThreadPoolExecutor(max_workers=1, thread_name_prefix="apart")
"""One: two searches at a time would take as long together, and leave the checks less."""
_READER = ThreadPoolExecutor(max_workers=1, thread_name_prefix="reader")


async def run_in_thread(work: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> T:
    """What the work comes to, or raises; it must not touch what is not its own."""
    return await asyncio.get_running_loop().run_in_executor(_THREAD, lambda: work(*args, **kwargs))


async def read_in_thread(read: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> T:
    """The same of a body that is long: a station's readings wait for no search that somebody else has asked for."""
    return await asyncio.get_running_loop().run_in_executor(_READER, lambda: read(*args, **kwargs))


async def by_grade(grade: CompiledGrade, work: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> T:
    """The same where the grade has plans to be searched for; else at once, as any lot is judged."""
    return await run_in_thread(work, *args, **kwargs) if grade.searches_plans else work(*args, **kwargs)
