"""Waiting for a body no longer than is good for the others."""

import asyncio

from service.api.bodies.deadline import CHECKS_PER_WAIT, CHECKS_WHEN_CROWDED, BodyDeadline

SO_LONG_THAT_NO_LOOK_COMES_BY_ITSELF = 1_000_000


async def waiting(patience: BodyDeadline) -> str:
    """What becomes of a wait for something that never comes."""
    task = patience.begin()
    try:
        await asyncio.Event().wait()
    except asyncio.CancelledError:
        if not patience.is_lost(task):
            raise
        return "ended"
    finally:
        patience.end(task)
    return "came"


async def begun(patience: BodyDeadline) -> "asyncio.Task[str]":
    """A wait that has begun."""
    task = asyncio.create_task(waiting(patience))
    await asyncio.sleep(0)
    return task


async def test_a_wait_lasts_its_time_where_nobody_needs_the_place() -> None:
    """A station on a slow line gets its answer."""
    patience = BodyDeadline(SO_LONG_THAT_NO_LOOK_COMES_BY_ITSELF)
    wait = await begun(patience)
    for _ in range(CHECKS_PER_WAIT):
        patience.look()
        await asyncio.sleep(0)
        assert not wait.done()
    patience.look()

    assert "ended" == await wait


async def test_in_a_hurry_the_oldest_waits_are_ended_and_new_ones_go_on() -> None:
    """Who holds places by bodies that never come loses them as soon as somebody else needs one."""
    patience = BodyDeadline(SO_LONG_THAT_NO_LOOK_COMES_BY_ITSELF)
    old = await begun(patience)
    patience.hurry()
    await asyncio.sleep(0)
    assert not old.done()
    for _ in range(CHECKS_WHEN_CROWDED):
        patience.look()
    new = await begun(patience)
    patience.hurry()

    assert "ended" == await old
    assert not new.done()
    new.cancel()


async def test_a_wait_that_others_cancel_is_not_taken_for_one_that_took_too_long() -> None:
    """A server that stops must not wait for an answer to a caller who is gone."""
    wait = await begun(BodyDeadline(SO_LONG_THAT_NO_LOOK_COMES_BY_ITSELF))
    wait.cancel()

    assert [True] == [isinstance(each, asyncio.CancelledError) for each in await asyncio.gather(wait, return_exceptions=True)]
