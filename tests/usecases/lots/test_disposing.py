"""What persons decide on lots: nothing goes out by one person's word alone, and all replicas agree."""

import asyncio
from typing import Any

import msgspec
import pytest
from sqlalchemy import text

from service.engine.documents import FlawedDocumentError
from service.engine.grade import Specification
from service.engine.ledger import Closing, Concession, Disposition, Opening
from service.ports.catalogue import SecondPersonNeededError
from service.ports.ledger import (
    ChangeUnknownError,
    ConcessionNeededError,
    ContentDiffersError,
    LotsQuery,
    LotUnknownError,
    VerdictRow,
)
from service.storage.catalogue import DatabaseCatalogue
from service.storage.database import Database
from service.storage.lots import DatabaseLedger, DatabaseLines
from service.storage.verifying import verify
from service.usecases.dispositions.disposing import NewlyDisposed, NewlyGranted, concession_of, dispose, grant
from service.usecases.grades import GradeCache
from service.usecases.grades import catalogue as grades
from service.usecases.lines import LineHistories
from service.usecases.lots.closing import close_lot
from service.usecases.lots.opening import open_lot
from service.usecases.lots.readings import record_batch
from tests.storage.test_journal import without_triggers
from tests.support.grade_caches import release
from tests.support.grades import FORCE, RUNNAGE, fixed, grade, mean
from tests.support.ledgers import BY, GRADE, LOT, batch, opened

GOOD, BAD = 1410, 1300
LIGHT, STRONG = "TB-110", "TB-150"
ALWAYS = ("hold", "rework", "scrap")


class Mill:
    """Two replicas on one database, and the lot on which persons decide."""

    def __init__(self, store: Database, grade_cache: GradeCache, ledgers: list[DatabaseLedger]) -> None:
        """Keep what it works with."""
        self.store, self.grade_cache, self.ledgers = store, grade_cache, ledgers
        self.lines = LineHistories(DatabaseLines(store))

    async def measured(self, *values: float) -> None:
        """Forces of the lot; without, nothing is measured."""
        if values:
            await record_batch(self.ledgers[0], self.grade_cache, LOT, batch("B", *values), BY)

    async def closed(self, *values: float) -> str:
        """The lot closed with these forces; the outcome."""
        await self.measured(*values)
        return (await close_lot(self.ledgers[0], self.grade_cache, LOT, Closing(), BY)).kept.row.outcome

    async def granted(self, name: str = "C-1", by: str = "anna", **members: Any) -> NewlyGranted:
        """A concession for a release."""
        document = {"authority": "The buyer", "reason": "For this season.", "for": "release", **members}
        return await grant(self.ledgers[0], self.grade_cache, LOT, name, msgspec.convert(document, Concession), by)

    async def disposed(
        self, disposition: str, by: str = "otto", key: str = "D-1", *, at: int = 1, may: bool = False, **members: Any
    ) -> NewlyDisposed:
        """A disposition by the second replica."""
        document = {"id": key, "disposition": disposition, "reason": "As agreed.", **members}
        asked = msgspec.convert(document, Disposition)
        return await dispose(self.ledgers[at], self.grade_cache, self.lines, LOT, asked, by, one_person_may=may)

    async def stands(self) -> str | None:
        """What is done with the lot by now."""
        return (await self.ledgers[1].row(LOT)).disposition


@pytest.fixture
async def mill(store: Database, catalogue: DatabaseCatalogue) -> Mill:
    """An open lot of a grade whose mean must be 1400 N, beside one of 1100 N and one of 1500 N."""
    ledgers = [DatabaseLedger(store), DatabaseLedger(store)]
    grade_cache = await opened(catalogue, ledgers[0])
    await release(catalogue, grade_cache, LIGHT, 1100)
    await release(catalogue, grade_cache, STRONG, 1500)
    return Mill(store, grade_cache, ledgers)


async def released_as(catalogue: DatabaseCatalogue, grade_cache: GradeCache, code: str, document: object) -> None:
    """A further grade of any specification, in force at once."""
    draft, _ = await grades.add_draft(catalogue, code, msgspec.convert(document, Specification))
    await grades.release(catalogue, grade_cache, code, draft.number, effective_from=None, expected=None)


async def test_a_lot_that_passes_is_released_by_its_verdict(mill: Mill) -> None:
    """Who, why, and the verdict that it rests on are kept."""
    await mill.closed(GOOD)
    done = await mill.disposed("release")
    of = done.disposed

    assert (True, 1, "release", "As agreed.", 1, "otto") == (
        done.is_new,
        of.number,
        of.document.disposition,
        of.document.reason,
        of.document.verdict,
        of.by,
    )
    assert "release" == await mill.stands()
    assert not of.is_of_earlier_verdict(done.verdicts)


@pytest.mark.parametrize(
    ("values", "outcome", "says"),
    [
        ((BAD,), "fail", "Verdict 1 on lot 0412-07 is `fail`"),
        ((), "undecided", "is `undecided`"),
        (None, None, "has no verdict"),
    ],
    ids=["failed", "undecided", "open"],
)
async def test_what_no_verdict_passes_is_not_released_without_a_concession(
    mill: Mill, values: tuple[float, ...] | None, outcome: str | None, says: str
) -> None:
    """The text says what to do; nothing is kept of it."""
    if values is not None:
        assert outcome == await mill.closed(*values)
    with pytest.raises(ConcessionNeededError, match=says) as refused:
        await mill.disposed("release")

    assert f"`PUT /v1/lots/{LOT}/concessions/{{concession}}`" in str(refused.value)
    assert await mill.stands() is None
    await mill.granted()
    await mill.disposed("release", concession="C-1")
    assert "release" == await mill.stands()


@pytest.mark.parametrize("values", [(BAD,), (), None], ids=["failed", "undecided", "open"])
async def test_what_does_not_go_out_is_disposed_of_whatever_the_verdict(mill: Mill, values: tuple[float, ...] | None) -> None:
    """A lot on hold may have no verdict yet."""
    if values is not None:
        await mill.closed(*values)
    for disposition in ALWAYS:
        await mill.disposed(disposition, key=f"D-{disposition}")
        assert disposition == await mill.stands()


async def test_who_granted_it_does_not_dispose_by_it(mill: Mill) -> None:
    """One person alone ships no bad lot, unless the setting says so, and then the disposition does."""
    await mill.closed(BAD)
    await mill.granted(by="anna")
    with pytest.raises(SecondPersonNeededError, match=r"`anna` granted concession `C-1`\. Have another person"):
        await mill.disposed("release", by="anna", concession="C-1")
    assert await mill.stands() is None
    by_two = await mill.disposed("release", by="otto", concession="C-1", may=True)
    by_one = await mill.disposed("release", by="anna", key="D-2", concession="C-1", may=True)

    assert (False, True) == tuple(bool(each.disposed.document.one_person) for each in (by_two, by_one))


async def test_where_nobody_has_a_key_everybody_may(mill: Mill) -> None:
    """As releasing revisions has it: `local` is no person."""
    await mill.closed(BAD)
    await mill.granted(by="local")

    assert not (await mill.disposed("release", by="local", concession="C-1")).disposed.document.one_person


async def test_a_concession_is_good_for_the_verdict_that_was_known(mill: Mill) -> None:
    """Undecided was conceded; that the lot fails nobody has conceded."""
    assert "undecided" == await mill.closed()
    await mill.granted()
    await mill.disposed("release", concession="C-1")
    await mill.measured(BAD)
    with pytest.raises(ConcessionNeededError, match=r"was granted on verdict 1; verdict 2, recorded since then, is `fail`\."):
        await mill.disposed("release", key="D-2", concession="C-1")
    lot = await mill.ledgers[1].folded(LOT)

    assert [True] == [each.is_of_earlier_verdict(len(lot.verdicts)) for each in lot.handled.dispositions]
    await mill.granted("C-2")
    again = await mill.disposed("release", key="D-3", concession="C-2")
    assert (2, 2) == (again.disposed.number, again.disposed.document.verdict)


async def test_one_that_was_granted_before_the_verdict_is_no_longer_good(mill: Mill) -> None:
    """Where the lot passes by then, it needs none, and the text says so."""
    await mill.granted()
    await mill.closed(GOOD)
    with pytest.raises(ConcessionNeededError, match=r"granted before the lot had a verdict; .* leave `concession` out"):
        await mill.disposed("release", concession="C-1")
    await mill.disposed("release")

    assert "release" == await mill.stands()


@pytest.mark.parametrize(
    ("asked", "code"),
    [
        ({"disposition": "release", "concession": "C-9"}, "unknown-concession"),
        ({"disposition": "regrade", "grade": STRONG, "concession": "C-1"}, "concession-for-other"),
        ({"disposition": "release", "concession": "C-2"}, "concession-for-other"),
        ({"disposition": "regrade", "grade": STRONG, "concession": "C-2"}, "concession-for-other"),
    ],
)
async def test_a_concession_allows_what_it_was_granted_for(mill: Mill, asked: dict[str, Any], code: str) -> None:
    """A regrade to another grade, or a release instead, was granted by nobody."""
    await mill.closed(BAD)
    await mill.granted("C-1")
    await mill.granted("C-2", **{"for": "regrade", "grade": LIGHT})
    with pytest.raises(FlawedDocumentError) as refused:
        await mill.disposed(**asked)

    assert [(code, "/concession")] == [(flaw.code, flaw.at) for flaw in refused.value.flaws]


async def test_a_lot_goes_out_as_a_grade_that_its_evidence_meets(mill: Mill) -> None:
    """Too weak for 1400 N, strong enough for 1100 N; by which revision that was found is kept."""
    assert "fail" == await mill.closed(BAD)
    done = await mill.disposed("regrade", grade=LIGHT)

    assert (LIGHT, 1, 1) == (done.disposed.document.grade, done.disposed.document.revision, done.disposed.document.verdict)
    assert (GRADE, "fail", "regrade") == ((row := await mill.ledgers[0].row(LOT)).grade, row.outcome, row.disposition)


async def test_a_grade_that_the_evidence_does_not_meet_takes_a_concession(mill: Mill) -> None:
    """The requirements that fail are named, with their sentences and the places of their rules."""
    await mill.closed(GOOD)
    with pytest.raises(ConcessionNeededError, match="does not meet `strength-1500` of revision 1 of TB-150") as refused:
        await mill.disposed("regrade", grade=STRONG)
    flaw = refused.value.flaws[0]

    assert ("requirement-fails", "/grade", "/requirements/0/limits/lower") == (flaw.code, flaw.at, flaw.rule)
    assert "1410 N" in flaw.text
    assert "1500 N" in flaw.text
    assert await mill.stands() is None
    await mill.granted(**{"for": "regrade", "grade": STRONG})
    assert 1 == (await mill.disposed("regrade", grade=STRONG, concession="C-1")).disposed.document.revision


async def test_the_grade_is_gone_by_as_it_is_in_force_now(mill: Mill, catalogue: DatabaseCatalogue) -> None:
    """What was once lighter may have become stricter."""
    await mill.closed(BAD)
    await release(catalogue, mill.grade_cache, LIGHT, 1350)
    with pytest.raises(ConcessionNeededError, match="`strength-1350` of revision 2 of TB-110"):
        await mill.disposed("regrade", grade=LIGHT)


async def test_an_undecided_requirement_of_the_other_grade_is_not_met(mill: Mill) -> None:
    """Nothing was measured: no grade is met."""
    await mill.closed()
    with pytest.raises(ConcessionNeededError) as refused:
        await mill.disposed("regrade", grade=LIGHT)

    assert ["requirement-undecided"] == [flaw.code for flaw in refused.value.flaws]


async def test_evidence_that_a_grade_does_not_know_does_not_meet_it(mill: Mill, catalogue: DatabaseCatalogue) -> None:
    """The grade asks for something else than was measured."""
    await released_as(catalogue, mill.grade_cache, "TB-OTHER", grade(mean(lower=100, of="runnage"), of=RUNNAGE))
    await mill.closed(GOOD)
    with pytest.raises(ConcessionNeededError, match="can't be judged by revision 1 of TB-OTHER") as refused:
        await mill.disposed("regrade", grade="TB-OTHER")

    assert [("unknown-characteristic", "/grade")] == [(flaw.code, flaw.at) for flaw in refused.value.flaws]


async def test_what_binds_nothing_holds_no_regrade_up(mill: Mill, catalogue: DatabaseCatalogue) -> None:
    """It is looked at, and the lot passes."""
    await released_as(
        catalogue, mill.grade_cache, "TB-115", grade(mean(lower=1100), mean(id="wish", lower=1500, binding=False))
    )
    await mill.closed(GOOD)

    assert (await mill.disposed("regrade", grade="TB-115")).is_new


async def test_a_verdict_that_comes_while_the_lot_is_looked_at_counts(mill: Mill, catalogue: DatabaseCatalogue) -> None:
    """The laboratory's reading is recorded after the evidence was judged, and before the regrade is: it is judged again."""
    await released_as(catalogue, mill.grade_cache, "TB-2", grade(mean(lower=1400), of={**FORCE, "sample": fixed(2)}))
    await open_lot(mill.ledgers[0], mill.grade_cache, "late", Opening(grade="TB-2"), BY)
    await record_batch(mill.ledgers[0], mill.grade_cache, "late", batch("B", GOOD), BY)
    await close_lot(mill.ledgers[0], mill.grade_cache, "late", Closing(), BY)
    assert "waiting" == (await mill.ledgers[0].row("late")).state

    class Overtaken(DatabaseLedger):
        """A replica on which another one records a reading as soon as it has read a verdict."""

        async def verdict(self, lot: str, number: int) -> VerdictRow:
            """The verdict, which is no longer the newest."""
            found = await super().verdict(lot, number)
            await record_batch(mill.ledgers[0], mill.grade_cache, "late", batch("C", 200), BY)
            return found

    asked = msgspec.convert({"id": "D", "disposition": "regrade", "reason": "R.", "grade": LIGHT}, Disposition)
    with pytest.raises(ConcessionNeededError, match="By the evidence of verdict 2 lot late does not meet `strength-1100`"):
        await dispose(Overtaken(mill.store), mill.grade_cache, mill.lines, "late", asked, BY)


async def test_an_open_lot_is_not_regraded_by_its_readings_so_far(mill: Mill) -> None:
    """Those that still come may be worse, and no verdict would tell."""
    await mill.measured(GOOD)
    with pytest.raises(ConcessionNeededError, match=r"has no verdict\. Close it first"):
        await mill.disposed("regrade", grade=LIGHT)


@pytest.mark.parametrize(
    ("named", "code"), [("TB-111", "unknown-grade"), ("GONE", "none-in-force")], ids=["not there", "withdrawn"]
)
async def test_the_grade_has_to_be_there_and_in_force(mill: Mill, catalogue: DatabaseCatalogue, named: str, code: str) -> None:
    """Of a regrade and of a concession for one."""
    await release(catalogue, mill.grade_cache, "GONE", 1000)
    await grades.withdraw(catalogue, mill.grade_cache, "GONE", 1, "No longer made.")
    await mill.closed(GOOD)
    for doing in (mill.disposed("regrade", grade=named), mill.granted(**{"for": "regrade", "grade": named})):
        with pytest.raises(FlawedDocumentError) as refused:
            await doing
        assert [(code, "/grade")] == [(flaw.code, flaw.at) for flaw in refused.value.flaws]


async def test_the_same_again_is_answered_the_same(mill: Mill, catalogue: DatabaseCatalogue) -> None:
    """Whoever sends it, and even where it would be refused by now."""
    await mill.closed(BAD)
    granted = await mill.granted(**{"for": "regrade", "grade": LIGHT})
    disposed = await mill.disposed("regrade", grade=LIGHT, concession="C-1")
    await grades.withdraw(catalogue, mill.grade_cache, LIGHT, 1, "No longer made.")
    granted_again = await mill.granted(by="otto", **{"for": "regrade", "grade": LIGHT})
    disposed_again = await mill.disposed("regrade", by="anna", at=0, grade=LIGHT, concession="C-1")

    assert (True, False, granted.granted) == (granted.is_new, granted_again.is_new, granted_again.granted)
    assert (True, False, disposed.disposed) == (disposed.is_new, disposed_again.is_new, disposed_again.disposed)
    assert 5 == (await mill.ledgers[0].row(LOT)).changes


async def test_something_else_under_the_same_id_is_shown_where_it_differs(mill: Mill) -> None:
    """Where what was sent differs, and nothing of what was kept beside it."""
    await mill.closed(BAD)
    await mill.granted()
    await mill.disposed("release", concession="C-1")
    for doing, at in (
        (mill.granted(authority="The seller"), ["/authority"]),
        (mill.disposed("hold"), ["/concession", "/disposition"]),
    ):
        with pytest.raises(ContentDiffersError) as refused:
            await doing
        assert at == [flaw.at for flaw in refused.value.flaws]


async def test_dispositions_at_once_come_in_one_order(mill: Mill) -> None:
    """On two replicas: each has a number of its own, and all see the same one as the last."""
    await mill.closed(GOOD)
    done = await asyncio.gather(
        *(mill.disposed(ALWAYS[number % 3], key=f"D-{number}", at=number % 2) for number in range(12)),
        *(mill.disposed("release", key="same", at=number % 2) for number in range(6)),
    )
    known = [(await each.folded(LOT)).handled.dispositions for each in mill.ledgers]

    assert known[0] == known[1]
    assert list(range(1, 14)) == sorted({each.disposed.number for each in done})
    assert 13 == sum(each.is_new for each in done)
    assert known[0][-1].document.disposition == await mill.stands()


async def test_lots_are_found_by_what_is_done_with_them(mill: Mill) -> None:
    """By the last disposition, not by one before."""
    await mill.closed(GOOD)
    await mill.disposed("hold")
    await mill.disposed("release", key="D-2")
    found = [await mill.ledgers[0].lots(LotsQuery(disposition=each)) for each in ("hold", "release")]

    assert [[], [LOT]] == [[row.lot for row in rows] for rows in found]


async def test_what_is_not_there_is_told(mill: Mill) -> None:
    """A lot, or a concession of it."""
    with pytest.raises(ChangeUnknownError, match="Lot 0412-07 has no concession `C-9`"):
        await concession_of(mill.ledgers[0], LOT, "C-9")
    asked = msgspec.convert({"id": "D", "disposition": "hold", "reason": "R."}, Disposition)
    with pytest.raises(LotUnknownError):
        await dispose(mill.ledgers[0], mill.grade_cache, mill.lines, "nowhere", asked, BY)


async def test_the_journal_tells_of_each(mill: Mill) -> None:
    """Whoever alters what is kept of a concession is found."""
    await mill.closed(BAD)
    await mill.granted()
    await mill.disposed("release", concession="C-1")
    assert (await verify(mill.store)).mismatch is None
    changes = await mill.ledgers[1].changes(LOT, 3, 10)
    await without_triggers(mill.store)
    async with mill.store.writing() as connection:
        await connection.execute(text("UPDATE lot_changes SET document = replace(document, 'The buyer', 'The mill')"))
    mismatch = (await verify(mill.store)).mismatch

    assert [("concession", "/concessions/C-1"), ("disposition", "D-1")] == [(each.kind, each.key) for each in changes]
    assert mismatch is not None
    assert f"change 4 of lot {LOT}" in mismatch.text
