"""What a revision, a draft most of all, would have made of the lots of a period: judged again in portions, on all cores."""

import asyncio
from collections import deque
from collections.abc import AsyncGenerator, AsyncIterator, Callable, Sequence
from contextlib import aclosing
from typing import NamedTuple

from msgspec import UNSET, UnsetType

from service.engine import ENGINE
from service.engine.documents import digest_of
from service.engine.impact import (
    ImpactLine,
    ImpactOfPortion,
    ImpactProgress,
    ImpactSummary,
    Interruption,
    Portion,
    Tally,
    judge_again,
)
from service.ports.catalogue import Catalogue, StateError
from service.ports.closed_lots import ClosedLots, ClosedLotsQuery, VerdictPlace
from service.ports.workers import WorkerPool, Workers, WorkersAwayError

LOTS_AT_ONCE = 100
"""In a portion: some tens of milliseconds of work, so that handing it over costs little beside it."""
BYTES_AT_ONCE = 1024 * 1024
"""Of documents in a portion; a lot that has more is a portion by itself."""
PLACES_AT_ONCE = 1000
SECONDS_BETWEEN_LOOKS = 0.1
"""At whether the service is stopping, while a portion is worked on."""
IS_STOPPING = Interruption("stopping", "The service is stopping. Ask again in a moment.")
FAILED = Interruption(
    "internal-error", "Something went wrong here. Try again; if it stays so, give the request's id to whoever runs the service."
)


class ImpactSources(NamedTuple):
    """Where it is worked out."""

    catalogue: Catalogue
    history: ClosedLots
    workers: Workers
    is_stopping: Callable[[], bool]
    """Whether it is time to end."""


class _StoppingError(Exception):
    """The service is to end."""


async def impact(within: ImpactSources, revision: int, wanted: ClosedLotsQuery) -> AsyncGenerator[ImpactLine]:
    """Each lot that would come out otherwise, the newest first, and after each portion how far it has come; then the sum.

    In memory are some portions at a time, and counts. Whatever happens after the first line, the last one is a summary that
    says what was judged. Raises RevisionUnknownError, WorkersBusyError, WorkersAwayError and CatalogueAwayError before the
    first line; afterwards only what is a fault of ours, and after the last line.
    """
    document = await within.catalogue.specification(wanted.grade, revision)
    of, tally = await within.history.count(wanted), Tally()

    def summary(error: Interruption | UnsetType = UNSET) -> ImpactSummary:
        return ImpactSummary(
            grade=wanted.grade,
            revision=revision,
            specification=digest_of(document),
            judged=tally.judged,
            of=of,
            changed=tally.changed,
            flawed=tally.flawed,
            outcomes=tally.of_lots(),
            requirements=tally.of_requirements(),
            error=error,
        )

    async with within.workers.pool() as pool:
        yield ImpactProgress(judged=0, of=of, changed=0)
        try:
            async with aclosing(_weighed(within, pool, document, wanted)) as portions:
                async for weighed in portions:
                    for lot in weighed.changed:
                        yield lot
                    tally.add_all(weighed.tally)
                    yield ImpactProgress(judged=tally.judged, of=of, changed=tally.changed)
        except _StoppingError:
            yield summary(IS_STOPPING)
        except StateError as error:
            yield summary(Interruption("not-ready", str(error)))
        except Exception:
            yield summary(FAILED)
            raise
        else:
            yield summary()


async def _weighed(
    within: ImpactSources, pool: WorkerPool, document: bytes, wanted: ClosedLotsQuery
) -> AsyncGenerator[ImpactOfPortion]:
    """What portions come to, in their order; as many are worked on at a time as keep the team busy."""
    begun = deque[asyncio.Future[ImpactOfPortion]]()
    try:
        async with aclosing(_portions(within.history, wanted)) as portions:
            async for places in portions:
                portion = Portion(document, await within.history.judged(places))
                begun.append(pool.submit(judge_again, portion))
                if len(begun) >= pool.capacity:
                    yield await _done(begun[0], within.is_stopping)
                    begun.popleft()
        while begun:
            yield await _done(begun[0], within.is_stopping)
            begun.popleft()
    finally:
        for each in begun:
            each.cancel()
        await asyncio.gather(*begun, return_exceptions=True)


async def _done(begun: "asyncio.Future[ImpactOfPortion]", is_stopping: Callable[[], bool]) -> ImpactOfPortion:
    """What a portion comes to. Raises _StoppingError as soon as the service is to end."""
    while not is_stopping():
        await asyncio.wait({begun}, timeout=SECONDS_BETWEEN_LOOKS)
        if begun.done():
            break
    else:
        raise _StoppingError
    weighed = begun.result()
    if weighed.engine != ENGINE:
        text = f"A worker judges by the rules of engine {weighed.engine}, and this service by {ENGINE}. Give both one release."
        raise WorkersAwayError(text)
    return weighed


async def _portions(history: ClosedLots, wanted: ClosedLotsQuery) -> AsyncGenerator[Sequence[VerdictPlace]]:
    """The places of lots, as many together as make a portion."""
    portion, size = list[VerdictPlace](), 0
    async for place in _places(history, wanted):
        if portion and (len(portion) == LOTS_AT_ONCE or size + place.size > BYTES_AT_ONCE):
            yield portion
            portion, size = [], 0
        portion.append(place)
        size += place.size
    if portion:
        yield portion


async def _places(history: ClosedLots, wanted: ClosedLotsQuery) -> AsyncIterator[VerdictPlace]:
    """All that are wanted, read in pages."""
    last, left = None, wanted.limit
    while left is None or left > 0:
        most = PLACES_AT_ONCE if left is None else min(left, PLACES_AT_ONCE)
        page = await history.places(wanted, last, most)
        for place in page:
            yield place
        if len(page) < most:
            return
        last, left = page[-1], None if left is None else left - most
