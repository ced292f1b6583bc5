"""Lines in memory: what is read of a line is only what may have come since, and nothing that came is missed."""

from datetime import UTC, datetime, timedelta

from service.engine.switching import Subject, encoded_results
from service.engine.switching.following import Inspected
from service.ports.catalogue import Moment
from service.ports.lines import LineDecision, LineHistoryPart, LineLot
from service.usecases.lines import LATE, LineHistories

MAJOR = Subject("class", "major")
START = datetime(2026, 11, 1, tzinfo=UTC)


class Committed:
    """A ledger in which a verdict can be read only some time after the moment that it bears."""

    def __init__(self) -> None:
        """Nothing is recorded."""
        self.now = START
        self._kept: list[tuple[Moment, LineLot]] = []
        self.read: list[int] = []
        """How many lots each look has read."""

    def record(self, lot: str, at: Moment, seen_at: Moment) -> None:
        """A lot rejected at a moment, that is there to be read from another on."""
        results = encoded_results({MAJOR: Inspected(lot=lot, inspection="normal", accepted=False)})
        self._kept.append((seen_at, LineLot(lot=lot, at=at, number=1, results=results)))

    async def recorded(self, grade: str, line: str, since: Moment | None) -> LineHistoryPart:
        """Those that are there by now."""
        lots = [lot for seen_at, lot in self._kept if seen_at <= self.now and (since is None or lot.at >= since)]
        self.read.append(len(lots))
        return LineHistoryPart(now=self.now, lots=lots, decisions=[])

    async def decide(self, grade: str, line: str, decision: str, document: bytes, by: str) -> tuple[LineDecision, bool]:
        """Nobody decides here."""
        raise NotImplementedError


async def test_a_verdict_that_is_committed_after_a_look_counts_at_the_next() -> None:
    """Its transaction took its moment before the look, and ended after it."""
    ledger = Committed()
    histories = LineHistories(ledger)
    ledger.record("L-1", START, START)
    ledger.record("L-2", START + timedelta(seconds=5), START + LATE)
    ledger.now = START + timedelta(seconds=10)
    before = (await histories.of("TB-130", "SP-2")).history.course(MAJOR).standing.state
    ledger.now = START + LATE
    after = (await histories.of("TB-130", "SP-2")).history.course(MAJOR).standing.state

    # ISO 2859-1, 9.3.1: two of five lots rejected bring tightened inspection.
    assert ("normal", "tightened") == (before, after)


async def test_what_can_not_have_come_late_is_not_read_again() -> None:
    """A line of ten thousand lots is not read with every lot that is opened."""
    ledger = Committed()
    histories = LineHistories(ledger)
    ledger.record("L-1", START, START)
    for minutes in (1, 3, 5):
        ledger.now = START + timedelta(minutes=minutes)
        await histories.of("TB-130", "SP-2")

    assert [1, 1, 0] == ledger.read
