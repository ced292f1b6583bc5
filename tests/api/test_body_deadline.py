"""Waiting for a body no longer than is good for the others."""

import asyncio

from service.api.bodies.deadline import TICKS_PER_WAIT, TICKS_WHEN_CROWDED, BodyDeadline

SO_LONG_THAT_NO_TICK_COMES_BY_ITSELF = 1_000_000


async def waiting(deadline: BodyDeadline) -> str:
    """What becomes of a wait for something that never comes."""
    task = deadline.begin()
    try:
        await asyncio.Event().wait()
    except asyncio.CancelledError:
        if not deadline.is_expired(task):
            raise
        return "ended"
    finally:
        deadline.end(task)
    return "came"


async def begun(deadline: BodyDeadline) -> "asyncio.Task[str]":
    """A wait that has begun."""
    task = asyncio.create_task(waiting(deadline))
    await asyncio.sleep(0)
    return task


async def test_a_wait_lasts_its_time_where_nobody_needs_the_place() -> None:
    """A station on a slow line gets its answer."""
    deadline = BodyDeadline(SO_LONG_THAT_NO_TICK_COMES_BY_ITSELF)
    wait = await begun(deadline)
    for _ in range(TICKS_PER_WAIT):
        deadline.tick()
        await asyncio.sleep(0)
        assert not wait.done()
    deadline.tick()

    assert "ended" == await wait


async def test_in_a_hurry_the_oldest_waits_are_ended_and_new_ones_go_on() -> None:
    """Who holds places by bodies that never come loses them as soon as somebody else needs one."""
    deadline = BodyDeadline(SO_LONG_THAT_NO_TICK_COMES_BY_ITSELF)
    old = await begun(deadline)
    deadline.expire_early()
    await asyncio.sleep(0)
    assert not old.done()
    for _ in range(TICKS_WHEN_CROWDED):
        deadline.tick()
    new = await begun(deadline)
    deadline.expire_early()

    assert "ended" == await old
    assert not new.done()
    new.cancel()


async def test_a_wait_that_others_cancel_is_not_taken_for_one_that_took_too_long() -> None:
    """A server that stops must not wait for an answer to a caller who is gone."""
    wait = await begun(BodyDeadline(SO_LONG_THAT_NO_TICK_COMES_BY_ITSELF))
    wait.cancel()

    assert [True] == [isinstance(each, asyncio.CancelledError) for each in await asyncio.gather(wait, return_exceptions=True)]
