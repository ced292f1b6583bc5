"""Closing lots: one verdict, whoever asks, and nothing that was acknowledged is left out of it."""

import asyncio
from collections.abc import Sequence
from typing import Any

import msgspec
import pytest

from service.engine.documents import Evidence, FlawedDocumentError
from service.engine.grade import Specification
from service.engine.ledger import Batch, Closing, Correction, Opening, RevisionMoved
from service.engine.requirements import LimitedRule
from service.engine.switching.stored_results import decoded_results
from service.ports.ledger import LotIsClosedError, LotsQuery, LotUnknownError, VerdictRow, VerdictUnknownError
from service.storage.catalogue import DatabaseCatalogue
from service.storage.database import Database
from service.storage.lots import DatabaseLedger
from service.storage.verifying import verify
from service.usecases.grades import GradeCache
from service.usecases.grades import catalogue as use
from service.usecases.judging import LotToJudge, of_lot
from service.usecases.judging.against import Against
from service.usecases.lots import LONG, closed_short
from service.usecases.lots.closing import Closed, close_lot, stored_verdict
from service.usecases.lots.correcting import correct_lot
from service.usecases.lots.opening import move_revision, open_lot
from service.usecases.lots.readings import RecordedReadings, record_batch
from service.usecases.lots.readings import strike as strike_out
from tests.support.grade_caches import release, release_as
from tests.support.grades import DIRECTION, FORCE, declared, each, fixed, grade, mean
from tests.support.ledgers import BY, GRADE, LOT, batch, opened, strike

WAITING, BOTH = (
    "TB-2",
    grade(mean(lower=1400), declared("Z", of="twist_direction"), of=[{**FORCE, "sample": fixed(2)}, DIRECTION]),
)
"""A grade that asks for two packages, and for the direction of the twist to be declared."""
Z: dict[str, Any] = {"characteristic": "twist_direction", "value": "Z"}
FIRST = batch("B", 1410, declared=[Z], of_series={"packages": ["b1"]})
AT_ONCE = Closing()


@pytest.fixture
def replicas(store: Database) -> list[DatabaseLedger]:
    """Two of them on one database."""
    return [DatabaseLedger(store), DatabaseLedger(store)]


async def waiting(catalogue: DatabaseCatalogue, ledger: DatabaseLedger) -> GradeCache:
    """A lot of the grade that asks for two packages, closed with one reading in."""
    grade_cache = GradeCache(catalogue)
    draft, _ = await use.add_draft(catalogue, WAITING, msgspec.convert(BOTH, Specification))
    await use.release(catalogue, grade_cache, WAITING, draft.number, effective_from=None, expected=None)
    await open_lot(ledger, grade_cache, LOT, Opening(grade=WAITING), BY)
    await record_batch(ledger, grade_cache, LOT, FIRST, BY)
    assert "waiting" == (await closed(ledger, grade_cache)).kept.told.state
    return grade_cache


async def closed(ledger: DatabaseLedger, grade_cache: GradeCache, lot: str = LOT) -> Closed:
    """The lot closed."""
    return await close_lot(ledger, grade_cache, lot, AT_ONCE, BY)


async def outcomes(ledger: DatabaseLedger) -> list[tuple[int, str, str]]:
    """(number, outcome, state) of all verdicts of the lot."""
    kept = [await stored_verdict(ledger, LOT, number + 1) for number in range(len((await ledger.folded(LOT)).verdicts))]
    return [(each.row.number, each.row.outcome, each.told.state) for each in kept]


def values_in(verdict: VerdictRow) -> list[float]:
    """All readings that it rests on."""
    evidence = msgspec.json.decode(verdict.evidence, type=Evidence)
    return [value for series in evidence.series or () for value in series.values]


async def judged_by_itself(grade_cache: GradeCache, verdict: VerdictRow) -> bytes:
    """What `POST /v1/verdicts` gives on the evidence that is kept."""
    evidence = msgspec.json.decode(verdict.evidence, type=Evidence)
    lot = LotToJudge(Against(grade=verdict.grade, revision=verdict.revision), evidence)
    return msgspec.json.encode(await of_lot(grade_cache, lot))


async def test_a_lot_closes_once_by_however_many_at_once(catalogue: DatabaseCatalogue, replicas: list[DatabaseLedger]) -> None:
    """The ERP asks again when the line drops, and the night shift asks too: all print the same verdict."""
    grade_cache = await opened(catalogue, replicas[0])
    await record_batch(replicas[0], grade_cache, LOT, batch("B", 1410, 1420), BY)
    answers = await asyncio.gather(*(closed(each, grade_cache) for each in replicas for _ in range(4)))
    again = await closed(replicas[1], grade_cache)

    assert 1 == sum(each.is_new for each in answers)
    assert 1 == len({each.kept.row for each in [*answers, again]})
    assert (1, "pass", 1, BY) == (again.kept.row.number, again.kept.row.outcome, again.kept.row.revision, again.kept.row.by)


async def test_the_verdict_is_what_judging_the_kept_evidence_gives(
    catalogue: DatabaseCatalogue, replicas: list[DatabaseLedger]
) -> None:
    """Whoever doubts it judges the evidence for himself and compares bytes."""
    ledger = replicas[0]
    grade_cache = await opened(catalogue, ledger)
    await record_batch(ledger, grade_cache, LOT, batch("B", 1200, 1420, 1400.5, of_series={"packages": ["b1", "b1", "b2"]}), BY)
    await strike_out(ledger, grade_cache, LOT, strike("S", "B", "/series/0/values/0"), BY)
    verdict = (await closed(ledger, grade_cache)).kept.row

    assert await judged_by_itself(grade_cache, verdict) == verdict.verdict
    assert msgspec.json.encode((await replicas[1].folded(LOT)).evidence()) == verdict.evidence


async def test_every_acknowledged_reading_is_in_the_verdict(
    catalogue: DatabaseCatalogue, replicas: list[DatabaseLedger]
) -> None:
    """A reading that came as the lot was closed either counts or is refused; none is taken and passed over."""
    grade_cache = await opened(catalogue, replicas[0])
    await record_batch(replicas[0], grade_cache, LOT, batch("first", 1400), BY)

    async def told(number: int) -> float | None:
        value = 1401.0 + number
        try:
            await record_batch(replicas[number % 2], grade_cache, LOT, batch(f"B{number}", value), BY)
        except LotIsClosedError:
            return None
        return value

    async def close_after(turns: int) -> Closed:
        for _ in range(turns):
            await asyncio.sleep(0)
        return await closed(replicas[1], grade_cache)

    *taken, kept = await asyncio.gather(*(told(number) for number in range(60)), close_after(20))

    assert isinstance(kept, Closed)
    assert sorted([1400.0, *(each for each in taken if isinstance(each, float))]) == sorted(values_in(kept.kept.row))


async def test_a_closed_lot_takes_nothing_more(catalogue: DatabaseCatalogue, replicas: list[DatabaseLedger]) -> None:
    """What was known before is answered the same; what is new is refused, with the way that remains."""
    ledger = replicas[0]
    grade_cache = await opened(catalogue, ledger)
    await record_batch(ledger, grade_cache, LOT, batch("B", 1410), BY)
    await closed(ledger, grade_cache)
    refused: Sequence[object] = await asyncio.gather(
        record_batch(replicas[1], grade_cache, LOT, batch("C", 1410), BY),
        strike_out(ledger, grade_cache, LOT, strike("S", "B", "/series/0/values/0"), BY),
        return_exceptions=True,
    )

    assert not (await record_batch(ledger, grade_cache, LOT, batch("B", 1410), BY)).is_new
    for error in refused:
        assert isinstance(error, LotIsClosedError)
        assert f"Lot {LOT} is closed." in str(error)
        assert f"/v1/lots/{LOT}/corrections" in str(error)
    assert [1410] == values_in((await stored_verdict(ledger, LOT, 1)).row)


async def test_a_lot_that_lacks_readings_waits_for_them(catalogue: DatabaseCatalogue, replicas: list[DatabaseLedger]) -> None:
    """The laboratory's figure comes three days later, and the verdict with it."""
    ledger = replicas[0]
    grade_cache = await waiting(catalogue, ledger)
    row = await ledger.row(LOT)
    more = await record_batch(replicas[1], grade_cache, LOT, batch("C", 1385, of_series={"stage": 1}), BY)

    assert ("waiting", "undecided", None) == (row.state, row.outcome, row.closed_at)
    assert [(1, "undecided", "waiting"), (2, "fail", "closed")] == await outcomes(ledger)
    assert (2, "closed") == (more.verdict, more.recorded.row.state)
    assert "batch" == (await ledger.changes(LOT, more.recorded.number - 1, 1))[0].kind
    verdict = (await stored_verdict(ledger, LOT, 2)).row
    assert await judged_by_itself(grade_cache, verdict) == verdict.verdict
    assert [1410, 1385] == values_in(verdict)
    assert verdict.at == (await ledger.row(LOT)).closed_at


async def test_the_answer_to_a_batch_names_the_verdict_each_time_it_is_sent(
    catalogue: DatabaseCatalogue, replicas: list[DatabaseLedger]
) -> None:
    """The laboratory's program asks again after a lost answer."""
    ledger = replicas[0]
    grade_cache = await waiting(catalogue, ledger)
    first = await record_batch(ledger, grade_cache, LOT, batch("C", 1412), BY)
    again = await record_batch(replicas[1], grade_cache, LOT, batch("C", 1412), BY)
    before = await record_batch(ledger, grade_cache, LOT, FIRST, BY)

    assert (True, 2) == (first.is_new, first.verdict)
    assert (False, 2) == (again.is_new, again.verdict)
    assert (False, 0) == (before.is_new, before.verdict)


async def test_what_comes_at_once_while_it_waits_is_judged_one_by_one(
    catalogue: DatabaseCatalogue, replicas: list[DatabaseLedger]
) -> None:
    """Whichever decides the lot is the last that it takes, on whatever replica."""
    grade_cache = await waiting(catalogue, replicas[0])

    async def told(number: int) -> RecordedReadings | LotIsClosedError:
        # Those of the same package as the first decide nothing; the last is of another.
        package = "b2" if number == 9 else "b1"
        try:
            sent = batch(f"C{number}", 1420.0 + number, of_series={"packages": [package]})
            return await record_batch(replicas[number % 2], grade_cache, LOT, sent, BY)
        except LotIsClosedError as error:
            return error

    answers = await asyncio.gather(*(told(number) for number in range(10)))
    taken = [each for each in answers if isinstance(each, RecordedReadings)]
    kept = await outcomes(replicas[1])

    assert list(range(1, len(taken) + 2)) == [number for number, _, _ in kept]
    assert sorted(each.verdict for each in taken) == [number for number, _, _ in kept[1:]]
    assert ["waiting"] * len(taken) + ["closed"] == [state for _, _, state in kept]
    assert len(taken) + 1 == len(values_in((await stored_verdict(replicas[0], LOT, len(kept))).row))


async def test_a_strike_is_judged_too_while_the_lot_waits(catalogue: DatabaseCatalogue, replicas: list[DatabaseLedger]) -> None:
    """A slipped specimen must not stay in the newest verdict."""
    grade_cache = await waiting(catalogue, replicas[0])
    struck = await strike_out(replicas[1], grade_cache, LOT, strike("S", "B", "/series/0/values/0"), BY)
    verdict = (await stored_verdict(replicas[0], LOT, 2)).row

    assert 2 == struck.verdict
    assert await judged_by_itself(grade_cache, verdict) == verdict.verdict
    assert b'"struck"' in verdict.evidence


async def test_what_spoils_the_evidence_of_a_lot_that_waits_is_refused(
    catalogue: DatabaseCatalogue, replicas: list[DatabaseLedger]
) -> None:
    """The newest verdict rests on all that is kept, so what can't be judged is not kept."""
    ledger = replicas[0]
    grade_cache = await waiting(catalogue, ledger)
    with pytest.raises(FlawedDocumentError) as refused:
        await record_batch(ledger, grade_cache, LOT, batch("C", 1412, declared=[Z]), BY)

    assert ["/evidence/declared/1"] == [flaw.at[:20] for flaw in refused.value.flaws]
    assert [(1, "undecided", "waiting")] == await outcomes(replicas[1])
    assert {"breaking_force": (1, 0)} == (await replicas[1].folded(LOT)).readings


async def test_a_lot_whose_evidence_is_flawed_does_not_close(
    catalogue: DatabaseCatalogue, replicas: list[DatabaseLedger]
) -> None:
    """Two batches that declare the same: which one counts is for a person to say, by striking one."""
    ledger = replicas[0]
    grade_cache = await waiting(catalogue, ledger)
    await open_lot(ledger, grade_cache, "flawed", Opening(grade=WAITING), BY)
    for key in ("B", "C"):
        await record_batch(ledger, grade_cache, "flawed", batch(key, 1410, declared=[Z]), BY)
    with pytest.raises(FlawedDocumentError) as refused:
        await closed(ledger, grade_cache, "flawed")
    row = await replicas[1].row("flawed")
    await strike_out(ledger, grade_cache, "flawed", strike("S", "C", "/declared/0"), BY)

    assert ["/evidence/declared/1"] == [flaw.at[:20] for flaw in refused.value.flaws]
    assert ("open", 3, None) == (row.state, row.changes, row.outcome)
    assert "pass" == (await closed(ledger, grade_cache, "flawed")).kept.row.outcome


async def test_a_lot_that_was_moved_is_judged_by_its_newer_revision(
    catalogue: DatabaseCatalogue, replicas: list[DatabaseLedger]
) -> None:
    """The replica that closes it has not heard of the move."""
    grade_cache = await opened(catalogue, replicas[0])
    await record_batch(replicas[0], grade_cache, LOT, batch("B", 1410), BY)
    await record_batch(replicas[1], grade_cache, LOT, batch("C", 1410), BY)
    await release(catalogue, grade_cache, GRADE, 1450)
    await move_revision(replicas[0], grade_cache, LOT, RevisionMoved("M", 2, "The buyer has agreed."), BY)
    verdict = (await closed(replicas[1], grade_cache)).kept.row

    assert (2, "fail") == (verdict.revision, verdict.outcome)


async def test_a_long_lot_is_judged_apart_and_rightly_so(catalogue: DatabaseCatalogue, replicas: list[DatabaseLedger]) -> None:
    """Whatever comes while it is judged belongs to it or is refused."""
    ledger = replicas[0]
    grade_cache = await opened(catalogue, ledger)
    long = msgspec.convert({"batch": "B", "series": [{**batch_series(), "values": [1410.5] * LONG}]}, Batch)
    await record_batch(ledger, grade_cache, LOT, long, BY)
    answers: Sequence[object] = await asyncio.gather(
        closed(ledger, grade_cache),
        *(record_batch(each, grade_cache, LOT, batch(f"C{number}", 1420), BY) for number, each in enumerate(replicas)),
        return_exceptions=True,
    )
    verdict = (await stored_verdict(ledger, LOT, 1)).row

    assert LONG + sum(isinstance(each, RecordedReadings) for each in answers) == len(values_in(verdict))
    assert await judged_by_itself(grade_cache, verdict) == verdict.verdict


def batch_series() -> dict[str, Any]:
    """The head of a series of breaking forces."""
    return {"characteristic": "breaking_force", "unit": "N"}


async def test_lots_are_found_by_state_and_outcome(catalogue: DatabaseCatalogue, replicas: list[DatabaseLedger]) -> None:
    """One asks which wait for the laboratory, and which have failed."""
    ledger = replicas[0]
    grade_cache = await waiting(catalogue, ledger)
    for lot, value in (("good", 1410), ("bad", 1390), ("open", 1390)):
        await open_lot(ledger, grade_cache, lot, Opening(grade=WAITING), BY)
        await record_batch(ledger, grade_cache, lot, batch("B", value, value, declared=[Z]), BY)
    for lot in ("good", "bad"):
        await closed(ledger, grade_cache, lot)
    wanted = {
        "waiting": LotsQuery(state=("waiting",)),
        "open": LotsQuery(state=("open",)),
        "closed": LotsQuery(state=("closed",)),
        "fail": LotsQuery(outcome=("fail",)),
        "undecided": LotsQuery(outcome=("undecided",)),
    }
    found = {name: [row.lot for row in await replicas[1].lots(each)] for name, each in wanted.items()}

    assert {"waiting": [LOT], "open": ["open"], "closed": ["bad", "good"], "fail": ["bad"], "undecided": [LOT]} == found


async def test_verdicts_are_listed_in_their_order(catalogue: DatabaseCatalogue, replicas: list[DatabaseLedger]) -> None:
    """From 1, past ten, where texts would sort otherwise."""
    grade_cache = await waiting(catalogue, replicas[0])
    for number in range(10):
        sent = batch(f"C{number}", 1420, of_series={"packages": ["b1"]})
        await record_batch(replicas[0], grade_cache, LOT, sent, BY)
    changes = await replicas[1].verdict_changes(LOT, 1, 9)

    assert [f"/verdicts/{number}" for number in range(2, 11)] == [each.key for each in changes]
    assert ["/verdicts/11"] == [each.key for each in await replicas[1].verdict_changes(LOT, 10, 9)]
    with pytest.raises(LotUnknownError):
        await replicas[1].verdict_changes("nowhere", 0, 9)


async def test_a_lot_without_a_verdict_has_none_to_show(catalogue: DatabaseCatalogue, replicas: list[DatabaseLedger]) -> None:
    """And one that is not there can't be closed."""
    grade_cache = await opened(catalogue, replicas[0])
    with pytest.raises(VerdictUnknownError):
        await stored_verdict(replicas[0], LOT, 1)
    with pytest.raises(LotUnknownError):
        await closed(replicas[0], grade_cache, "nowhere")


async def test_verdicts_stand_in_the_journal(
    catalogue: DatabaseCatalogue, store: Database, replicas: list[DatabaseLedger]
) -> None:
    """A batch and the verdict that it brought are two entries of one moment."""
    grade_cache = await waiting(catalogue, replicas[0])
    await record_batch(replicas[0], grade_cache, LOT, batch("C", 1412), BY)
    changes = await replicas[1].changes(LOT, 0, 10)

    assert ["opened", "batch", "verdict", "batch", "verdict"] == [each.kind for each in changes]
    assert changes[3].at == changes[4].at
    assert (await verify(store)).mismatch is None
    assert {} == decoded_results(LOT, b"[]")


GUARDED, OPEN_BETWEEN = (
    "TB-3",
    grade(
        {
            **each(lower=100),
            "decision": {"rule": "guarded_acceptance", "uncertainty": {"expanded": 20, "coverage_factor": 2}},
        },
        of=[{**FORCE, "sample": fixed(3)}],
    ),
)
"""A grade that asks for three packages, and leaves open what lies within 20 N of its limit."""


async def between_limits(catalogue: DatabaseCatalogue, ledger: DatabaseLedger) -> GradeCache:
    """A lot of that grade with two of three readings, one of them between the guarded limits."""
    grade_cache = GradeCache(catalogue)
    await release_as(catalogue, grade_cache, GUARDED, msgspec.convert(OPEN_BETWEEN, Specification))
    await open_lot(ledger, grade_cache, LOT, Opening(grade=GUARDED), BY)
    await record_batch(ledger, grade_cache, LOT, batch("B1", 110, 200), BY)
    return grade_cache


async def test_a_lot_that_is_undecided_otherwise_waits_for_its_sample_too(
    catalogue: DatabaseCatalogue, replicas: list[DatabaseLedger]
) -> None:
    """One reading between guarded limits closed it for good, and the third was refused."""
    grade_cache = await between_limits(catalogue, replicas[0])
    first = await closed(replicas[0], grade_cache)
    taken = await record_batch(replicas[0], grade_cache, LOT, batch("B2", 200), BY)

    assert ("undecided", "waiting") == (first.kept.told.outcome, first.kept.told.state)
    assert 2 == taken.verdict
    assert [(1, "undecided", "waiting"), (2, "undecided", "closed")] == await outcomes(replicas[0])


async def test_lots_that_were_closed_too_early_are_found(
    catalogue: DatabaseCatalogue, replicas: list[DatabaseLedger], monkeypatch: pytest.MonkeyPatch
) -> None:
    """By a release that did not list what was missing; what is missing then comes by a correction, and it is found no more."""
    grade_cache = await between_limits(catalogue, replicas[0])
    with monkeypatch.context() as older:
        older.setattr(LimitedRule, "missing", lambda _rule, _lot: ())
        assert "closed" == (await closed(replicas[0], grade_cache)).kept.told.state
    found = [each async for each in closed_short(replicas[1], grade_cache)]
    third: dict[str, Any] = {"characteristic": "breaking_force", "unit": "N", "values": [200]}
    more = msgspec.convert({"id": "C1", "reason": "The third reading.", "series": [third]}, Correction)
    await correct_lot(replicas[0], grade_cache, LOT, more, BY)

    assert [(LOT, [("breaking_force", 1, 1)])] == [
        (each.lot, [(lacks.characteristic, lacks.packages, lacks.readings) for lacks in each.missing]) for each in found
    ]
    assert [] == [each async for each in closed_short(replicas[1], grade_cache)]
