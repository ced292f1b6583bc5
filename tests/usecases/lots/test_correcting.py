"""Correcting lots: a new verdict beside the old one, and nothing that was there is lost."""

import asyncio
from collections.abc import Sequence
from typing import Any

import msgspec
import pytest
from msgspec.structs import replace

from service.engine.documents import Evidence, FlawedDocumentError
from service.engine.grade import Specification
from service.engine.ledger import Batch, Correction, Opening, RevisionMoved, Strike
from service.engine.ledger.history import assemble
from service.ports.ledger import ContentDiffersError, LotHasNoVerdictError, LotUnknownError, VerdictRow
from service.storage.catalogue import DatabaseCatalogue
from service.storage.database import Database
from service.storage.instruments import DatabaseInstruments
from service.storage.lots import DatabaseLedger
from service.storage.verifying import verify
from service.usecases.grades import GradeCache
from service.usecases.grades import catalogue as use
from service.usecases.lots import LONG
from service.usecases.lots.closing import Closed, stored_verdict
from service.usecases.lots.correcting import correct_lot
from service.usecases.lots.opening import move_revision, open_lot
from service.usecases.lots.readings import record_batch
from service.usecases.lots.readings import strike as strike_out
from tests.support.grade_caches import release
from tests.support.ledgers import BY, FORCE, GRADE, LOT, batch, opened
from tests.usecases.lots.test_closing import closed, judged_by_itself, outcomes, waiting

FIRST = "/series/0/values/0"
AGE = {"from": "made", "to": "packed", "limits": {"upper": 60}}


@pytest.fixture
def replicas(store: Database) -> list[DatabaseLedger]:
    """Two of them on one database."""
    return [DatabaseLedger(store), DatabaseLedger(store)]


def correction(key: str, *strikes: tuple[str, str], values: Sequence[float] = (), **members: Any) -> Correction:
    """What is struck, as (batch, place), and the breaking forces that are added."""
    document: dict[str, Any] = {"id": key, "reason": "The printout of the tester says so.", **members}
    if strikes:
        document["strikes"] = [{"of": of, "at": [place]} for of, place in strikes]
    if values:
        document["series"] = [{**FORCE, "values": list(values)}]
    return msgspec.convert(document, Correction)


async def failed(catalogue: DatabaseCatalogue, ledger: DatabaseLedger) -> GradeCache:
    """A lot that has failed by a reading that was mistyped."""
    grade_cache = await opened(catalogue, ledger)
    await record_batch(ledger, grade_cache, LOT, batch("B", 141, 1420), BY)
    assert "fail" == (await closed(ledger, grade_cache)).kept.row.outcome
    return grade_cache


def readings_in(verdict: VerdictRow) -> list[tuple[float, str]]:
    """(reading, remark) of all that it rests on."""
    evidence = msgspec.json.decode(verdict.evidence, type=Evidence)
    return [
        each
        for series in evidence.series or ()
        for each in zip(series.values, series.remarks or [""] * len(series.values), strict=True)
    ]


async def test_a_correction_records_the_next_verdict_and_leaves_the_first_as_it_is(
    catalogue: DatabaseCatalogue, replicas: list[DatabaseLedger]
) -> None:
    """Who printed the first one finds it again, byte for byte, and beside it the one that counts."""
    grade_cache = await failed(catalogue, replicas[0])
    before = await stored_verdict(replicas[0], LOT, 1)
    made = await correct_lot(replicas[1], grade_cache, LOT, correction("C", ("B", FIRST), values=[1410]), "anna")

    assert made.is_new
    assert (2, "pass", "anna") == (made.kept.row.number, made.kept.row.outcome, made.kept.row.by)
    assert ("closed", "The printout of the tester says so.") == (made.kept.told.state, made.kept.told.reason)
    assert [(141, "struck"), (1420, ""), (1410, "")] == readings_in(made.kept.row)
    assert await judged_by_itself(grade_cache, made.kept.row) == made.kept.row.verdict
    assert before == await stored_verdict(replicas[0], LOT, 1)
    row = await replicas[0].row(LOT)
    assert ("closed", "pass", before.row.at) == (row.state, row.outcome, row.closed_at)


async def test_a_correction_sent_again_is_answered_the_same(
    catalogue: DatabaseCatalogue, replicas: list[DatabaseLedger]
) -> None:
    """The ERP asks again after a lost answer, when another one has come by then too."""
    grade_cache = await failed(catalogue, replicas[0])
    sent = correction("C", ("B", FIRST), values=[1410])
    first = await correct_lot(replicas[0], grade_cache, LOT, sent, BY)
    await correct_lot(replicas[0], grade_cache, LOT, correction("D", values=[1380]), BY)
    again = await correct_lot(replicas[1], grade_cache, LOT, sent, "otto")

    assert (False, first.kept) == (again.is_new, again.kept)
    assert [1, 2, 3] == [number for number, _, _ in await outcomes(replicas[1])]
    with pytest.raises(ContentDiffersError) as refused:
        await correct_lot(replicas[1], grade_cache, LOT, replace(sent, reason="Another one."), BY)
    assert ["/reason"] == [flaw.at for flaw in refused.value.flaws]


async def test_corrections_at_once_are_each_judged_with_those_before(
    catalogue: DatabaseCatalogue, replicas: list[DatabaseLedger]
) -> None:
    """Two replicas, each correction sent to both: one verdict each, in one order, none twice."""
    grade_cache = await failed(catalogue, replicas[0])
    sent = [correction(f"C{number}", values=[1400.0 + number]) for number in range(5)]
    answers = await asyncio.gather(*(correct_lot(each, grade_cache, LOT, one, BY) for one in sent for each in replicas))
    kept = [(await stored_verdict(replicas[1], LOT, number)).row for number in range(1, 7)]

    assert 5 == sum(each.is_new for each in answers)
    assert [2, 2, 3, 3, 4, 4, 5, 5, 6, 6] == sorted(each.kept.row.number for each in answers)
    assert [2, 3, 4, 5, 6, 7] == [len(readings_in(each)) for each in kept]
    assert 6 == len(await outcomes(replicas[0]))


async def test_what_a_correction_adds_can_be_struck_by_another(
    catalogue: DatabaseCatalogue, replicas: list[DatabaseLedger]
) -> None:
    """It was mistyped once more."""
    grade_cache = await failed(catalogue, replicas[0])
    await correct_lot(replicas[0], grade_cache, LOT, correction("C", ("B", FIRST), values=[14100]), BY)
    made = await correct_lot(replicas[1], grade_cache, LOT, correction("D", ("C", FIRST), values=[1410]), BY)

    assert [(141, "struck"), (1420, ""), (14100, "struck"), (1410, "")] == readings_in(made.kept.row)


async def test_a_correction_can_leave_a_lot_waiting(catalogue: DatabaseCatalogue, replicas: list[DatabaseLedger]) -> None:
    """A struck reading is missing then; what comes next is taken as from any lot that waits."""
    grade_cache = await waiting(catalogue, replicas[0])
    await record_batch(replicas[0], grade_cache, LOT, batch("C", 1412, of_series={"packages": ["b2"]}), BY)
    made = await correct_lot(replicas[1], grade_cache, LOT, correction("D", ("C", FIRST)), BY)
    row = await replicas[0].row(LOT)
    more = await record_batch(replicas[0], grade_cache, LOT, batch("E", 1405, of_series={"packages": ["b3"]}), BY)

    assert ("waiting", "undecided") == (made.kept.told.state, made.kept.row.outcome)
    assert ("waiting", "undecided", None) == (row.state, row.outcome, row.closed_at)
    assert (4, "closed") == (more.verdict, more.recorded.row.state)
    assert ["waiting", "closed", "waiting", "closed"] == [state for _, _, state in await outcomes(replicas[1])]


async def test_what_is_declared_is_replaced_in_one_step(catalogue: DatabaseCatalogue, replicas: list[DatabaseLedger]) -> None:
    """Both at once: neither twice, which could not be judged, nor none, which would leave the lot undecided."""
    grade_cache = await waiting(catalogue, replicas[0])
    other = [{"characteristic": "twist_direction", "value": "S"}]
    made = await correct_lot(replicas[0], grade_cache, LOT, correction("C", ("B", "/declared/0"), declared=other), BY)
    evidence = msgspec.json.decode(made.kept.row.evidence, type=Evidence)

    assert "fail" == made.kept.row.outcome
    assert ["S"] == [each.value for each in evidence.declared or ()]


async def test_what_was_told_of_the_lot_can_be_told_otherwise(
    catalogue: DatabaseCatalogue, replicas: list[DatabaseLedger]
) -> None:
    """The size was mistyped, and by it how many packages to test."""
    grade_cache = await failed(catalogue, replicas[0])
    for key, size in (("C", 4800), ("D", 480)):
        made = await correct_lot(replicas[0], grade_cache, LOT, correction(key, lot={"size": size}), BY)

    assert 480 == msgspec.json.decode(made.kept.row.evidence, type=Evidence).lot.size
    assert b'{"size":480}' == (await replicas[1].row(LOT)).told


async def test_an_open_lot_has_nothing_to_correct(catalogue: DatabaseCatalogue, replicas: list[DatabaseLedger]) -> None:
    """It is struck and recorded there, as the refusal says."""
    grade_cache = await opened(catalogue, replicas[0])
    with pytest.raises(LotHasNoVerdictError, match=rf"/v1/lots/{LOT}/strikes`.*/v1/lots/{LOT}/readings`"):
        await correct_lot(replicas[0], grade_cache, LOT, correction("C", values=[1410]), BY)
    with pytest.raises(LotUnknownError):
        await correct_lot(replicas[0], grade_cache, "nowhere", correction("C", values=[1410]), BY)

    assert 1 == (await replicas[1].row(LOT)).changes


async def test_every_flaw_of_what_is_struck_is_told_and_nothing_kept(
    catalogue: DatabaseCatalogue, replicas: list[DatabaseLedger]
) -> None:
    """What can be corrected in one go should not take four."""
    grade_cache = await failed(catalogue, replicas[0])
    sent = correction("C", ("B", "/series/0/values/2"), ("X", FIRST), ("B", FIRST), ("B", "/dates/0"), values=[1410])
    with pytest.raises(FlawedDocumentError) as refused:
        await correct_lot(replicas[1], grade_cache, LOT, sent, BY)

    assert [("nothing-there", "/strikes/0/at/0"), ("unknown-batch", "/strikes/1/of"), ("nothing-there", "/strikes/3/at/0")] == [
        (flaw.code, flaw.at) for flaw in refused.value.flaws
    ]
    assert (3, "fail") == ((row := await replicas[0].row(LOT)).changes, row.outcome)


async def test_a_correction_can_not_strike_what_it_adds(catalogue: DatabaseCatalogue, replicas: list[DatabaseLedger]) -> None:
    """Its own batch is not there before it."""
    grade_cache = await failed(catalogue, replicas[0])
    with pytest.raises(FlawedDocumentError) as refused:
        await correct_lot(replicas[0], grade_cache, LOT, correction("C", ("C", FIRST), values=[1410]), BY)

    assert ["unknown-batch"] == [flaw.code for flaw in refused.value.flaws]


@pytest.mark.parametrize(
    ("members", "code", "at"),
    [
        ({}, "nothing-in-correction", ""),
        (
            {"series": [{"characteristic": "breaking_force", "unit": "kg", "values": [1]}]},
            "unit-of-other-quantity",
            "/series/0",
        ),
        ({"declared": [{"characteristic": "twist_direction", "value": "Z"}]}, "declared-twice", "/evidence/declared/1"),
    ],
)
async def test_what_can_not_be_judged_is_not_kept(
    catalogue: DatabaseCatalogue, replicas: list[DatabaseLedger], members: dict[str, Any], code: str, at: str
) -> None:
    """By itself, or only beside what is there."""
    grade_cache = await waiting(catalogue, replicas[0])
    with pytest.raises(FlawedDocumentError) as refused:
        await correct_lot(replicas[0], grade_cache, LOT, correction("C", **members), BY)

    [flaw] = refused.value.flaws
    assert code == flaw.code
    assert flaw.at.startswith(at)
    assert [(1, "undecided", "waiting")] == await outcomes(replicas[1])


async def test_a_long_lot_is_corrected_rightly(catalogue: DatabaseCatalogue, replicas: list[DatabaseLedger]) -> None:
    """It is judged apart, and what comes at the same moment is in one of the verdicts all the same."""
    grade_cache = await opened(catalogue, replicas[0])
    await record_batch(replicas[0], grade_cache, LOT, batch("B", *[1410.5] * LONG), BY)
    await closed(replicas[0], grade_cache)
    sent = [correction("C", ("B", FIRST), values=[1399]), correction("D", ("B", "/series/0/values/1"))]
    answers = await asyncio.gather(*(correct_lot(each, grade_cache, LOT, one, BY) for one in sent for each in replicas))
    newest = (await stored_verdict(replicas[0], LOT, 3)).row

    assert 2 == sum(isinstance(each, Closed) and each.is_new for each in answers)
    assert (LONG + 1, 2) == (len(found := readings_in(newest)), sum(remark == "struck" for _, remark in found))
    assert await judged_by_itself(grade_cache, newest) == newest.verdict


async def test_the_instrument_is_marked_as_in_any_batch(
    catalogue: DatabaseCatalogue, store: Database, replicas: list[DatabaseLedger]
) -> None:
    """And the same sent again, or otherwise, is compared with what was sent."""
    grade_cache = await failed(catalogue, replicas[0])
    await DatabaseInstruments(store).put("TT-2", b'{"calibrated_until":"2019-12-31","measures":["force"]}', BY)
    sent = correction("C", values=[1410], instrument="TT-2")
    made = await correct_lot(replicas[0], grade_cache, LOT, sent, BY)
    evidence = msgspec.json.decode(made.kept.row.evidence, type=Evidence)

    assert [("overdue", [1410.0])] == [(each.calibration, each.values) for each in evidence.series or () if each.calibration]
    assert not (await correct_lot(replicas[1], grade_cache, LOT, sent, BY)).is_new
    with pytest.raises(ContentDiffersError) as refused:
        await correct_lot(replicas[1], grade_cache, LOT, replace(sent, instrument="TT-3"), BY)
    assert ["/instrument"] == [flaw.at for flaw in refused.value.flaws]


async def test_a_correction_stands_in_the_changes_and_in_the_journal(
    catalogue: DatabaseCatalogue, store: Database, replicas: list[DatabaseLedger]
) -> None:
    """One moment, two entries; and the evidence is what the changes come to."""
    grade_cache = await failed(catalogue, replicas[0])
    made = await correct_lot(replicas[0], grade_cache, LOT, correction("C", ("B", FIRST), values=[1410]), BY)
    changes = await replicas[1].changes(LOT, 0, 10)

    assert ["opened", "batch", "verdict", "correction", "verdict"] == [each.kind for each in changes]
    assert ["C", "/verdicts/2"] == [each.key for each in changes[3:]]
    assert changes[3].at == changes[4].at
    assert made.kept.row.evidence == msgspec.json.encode(assemble(LOT, changes))
    assert (await verify(store)).mismatch is None


async def test_a_replica_that_has_not_heard_of_the_move_corrects_by_the_newer_revision(
    catalogue: DatabaseCatalogue, replicas: list[DatabaseLedger]
) -> None:
    """It knows the lot from before it was moved, and closed, elsewhere."""
    grade_cache = await opened(catalogue, replicas[0])
    await record_batch(replicas[1], grade_cache, LOT, batch("B", 1410), BY)
    await release(catalogue, grade_cache, GRADE, 1450)
    await move_revision(replicas[0], grade_cache, LOT, RevisionMoved("M", 2, "The buyer has agreed."), BY)
    await closed(replicas[0], grade_cache)
    made = (await correct_lot(replicas[1], grade_cache, LOT, correction("C", values=[1430]), BY)).kept.row

    assert (2, 2, "fail") == (made.number, made.revision, made.outcome)


async def test_a_date_that_was_told_at_the_opening_is_struck_without_a_batch(
    catalogue: DatabaseCatalogue, replicas: list[DatabaseLedger]
) -> None:
    """It was mistyped, and the lot has failed by its age: a strike mends it before the verdict, a correction after it."""
    grade_cache = GradeCache(catalogue)
    document = {"characteristics": [], "requirements": [{"id": "age", "kind": "age", **AGE}]}
    draft, _ = await use.add_draft(catalogue, GRADE, msgspec.convert(document, Specification))
    await use.release(catalogue, grade_cache, GRADE, draft.number, effective_from=None, expected=None)
    told = [{"event": "made", "date": "2025-01-10"}, {"event": "packed", "date": "2026-02-10"}]
    opening, right = {"grade": GRADE, "dates": told}, [{**told[0], "date": "2026-01-10"}]
    for lot in (LOT, "other"):
        await open_lot(replicas[0], grade_cache, lot, msgspec.convert(opening, Opening), BY)
    first = await closed(replicas[0], grade_cache)
    opened_by = [{"at": ["/dates/0"]}]
    corrected = await correct_lot(replicas[1], grade_cache, LOT, correction("C", dates=right, strikes=opened_by), BY)
    with pytest.raises(FlawedDocumentError, match="The opening of the lot has no entry at") as refused:
        await correct_lot(replicas[1], grade_cache, LOT, correction("D", strikes=[{"at": ["/dates/1", "/dates/2"]}]), BY)
    sent = {"id": "S", "at": ["/dates/0"], "reason": "Mistyped."}
    await strike_out(replicas[1], grade_cache, "other", msgspec.convert(sent, Strike), BY)
    await record_batch(replicas[0], grade_cache, "other", msgspec.convert({"batch": "B", "dates": right}, Batch), BY)

    assert ("fail", "pass") == (first.kept.row.outcome, corrected.kept.row.outcome)
    assert ["/strikes/0/at/1"] == [flaw.at for flaw in refused.value.flaws]
    assert "pass" == (await closed(replicas[1], grade_cache, "other")).kept.row.outcome
