"""Impact of a revision: judged lots of a period judged again by it, in portions, on a worker pool."""

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
"""Maximum number of lots in a portion: tens of milliseconds of work, beside which sending it to a worker costs little."""
BYTES_AT_ONCE = 1024 * 1024
"""Maximum bytes of documents in a portion; a larger lot is a portion by itself."""
PLACES_AT_ONCE = 1000
SECONDS_BETWEEN_LOOKS = 0.1
"""Interval at which a stop of the service is noticed while a portion is awaited."""
IS_STOPPING = Interruption("stopping", "The service is stopping. Try again in a moment.")
FAILED = Interruption(
    "internal-error",
    "The service has failed. Try again; if it fails again, give the request's id to the operator of the service.",
)


class ImpactSources(NamedTuple):
    """What the calculation needs from outside."""

    catalogue: Catalogue
    history: ClosedLots
    workers: Workers
    is_stopping: Callable[[], bool]
    """True once the service stops."""


class _StoppingError(Exception):
    """The service is stopping."""


class _Calculation(NamedTuple):
    """One calculation of an impact, with the counts so far."""

    within: ImpactSources
    wanted: ClosedLotsQuery
    revision: int
    document: bytes
    """The revision's specification."""
    of: int
    """Number of lots that match."""
    tally: Tally

    def summary(self, error: Interruption | UnsetType = UNSET) -> ImpactSummary:
        """Return the summary of what was judged so far."""
        return ImpactSummary(
            grade=self.wanted.grade,
            revision=self.revision,
            specification=digest_of(self.document),
            judged=self.tally.judged,
            of=self.of,
            changed=self.tally.changed,
            flawed=self.tally.flawed,
            outcomes=self.tally.of_lots(),
            requirements=self.tally.of_requirements(),
            error=error,
        )

    async def lines(self, pool: WorkerPool) -> AsyncGenerator[ImpactLine]:
        """Yield the changed lots of each portion, then the progress."""
        async with aclosing(self.results(pool)) as results:
            async for result in results:
                for lot in result.changed:
                    yield lot
                self.tally.add_all(result.tally)
                yield ImpactProgress(judged=self.tally.judged, of=self.of, changed=self.tally.changed)

    async def results(self, pool: WorkerPool) -> AsyncGenerator[ImpactOfPortion]:
        """Yield the results of portions, in order; as many portions are in flight as keep the pool busy."""
        in_flight = deque[asyncio.Future[ImpactOfPortion]]()
        portions = _portions(self.within.history, self.wanted)
        try:
            async for places in portions:
                portion = Portion(self.document, await self.within.history.judged(places))
                in_flight.append(pool.submit(judge_again, portion))
                if len(in_flight) >= pool.capacity:
                    yield await _result(in_flight[0], self.within.is_stopping)
                    in_flight.popleft()
            while in_flight:
                yield await _result(in_flight[0], self.within.is_stopping)
                in_flight.popleft()
        finally:
            # Awaited, so that no task is left behind when a caller stops reading after some lines.
            for future in in_flight:
                future.cancel()
            await asyncio.gather(*in_flight, return_exceptions=True)
            await portions.aclose()


async def impact(within: ImpactSources, revision: int, wanted: ClosedLotsQuery) -> AsyncGenerator[ImpactLine]:
    """Yield each lot with another outcome, newest first, progress after each portion, and a summary as the last line.

    Only some portions at a time, and counts, are in memory. After the first line the last one is a summary in any case, with
    an `error` if the work was interrupted. Raises RevisionUnknownError, WorkersBusyError, WorkersAwayError and
    CatalogueAwayError before the first line; unexpected exceptions after the summary.
    """
    document = await within.catalogue.specification(wanted.grade, revision)
    of = await within.history.count(wanted)
    calculation = _Calculation(within, wanted, revision, document, of, Tally())
    async with within.workers.pool() as pool:
        yield ImpactProgress(judged=0, of=of, changed=0)
        lines = calculation.lines(pool)
        try:
            async for line in lines:
                yield line
        except _StoppingError:
            yield calculation.summary(IS_STOPPING)
        except StateError as error:
            yield calculation.summary(Interruption("not-ready", str(error)))
        except Exception:
            yield calculation.summary(FAILED)
            raise
        else:
            yield calculation.summary()
        finally:
            await lines.aclose()


async def _result(future: "asyncio.Future[ImpactOfPortion]", is_stopping: Callable[[], bool]) -> ImpactOfPortion:
    """Await the result of a portion. Raises _StoppingError when the service stops, WorkersAwayError for another engine."""
    while not is_stopping():
        await asyncio.wait({future}, timeout=SECONDS_BETWEEN_LOOKS)
        if future.done():
            break
    else:
        raise _StoppingError
    result = future.result()
    # A worker of another release would judge some lots by other rules, and nobody could tell which.
    if result.engine != ENGINE:
        text = f"A worker has engine {result.engine}, and this service has engine {ENGINE}. Run the same release on both."
        raise WorkersAwayError(text)
    return result


async def _portions(history: ClosedLots, wanted: ClosedLotsQuery) -> AsyncGenerator[Sequence[VerdictPlace]]:
    """The places of the lots, grouped into portions."""
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
    """The places of all lots that match, read in pages."""
    last, left = None, wanted.limit
    while left is None or left > 0:
        most = PLACES_AT_ONCE if left is None else min(left, PLACES_AT_ONCE)
        page = await history.places(wanted, last, most)
        for place in page:
            yield place
        if len(page) < most:
            return
        last, left = page[-1], None if left is None else left - most
