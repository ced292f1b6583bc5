"""Where a lot stands is the same, whether it was followed batch by batch or is looked at for the first time."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import UTC, datetime
from random import Random
from typing import Any

import msgspec
import pytest

from service.engine.grade import CompiledGrade
from service.engine.ledger import (
    BATCH,
    MOVED,
    OPENED,
    STRIKE,
    Batch,
    CarriedMove,
    CarriedOpening,
    Change,
    LotHistory,
    RevisionMoved,
    encoded,
)
from service.usecases.lots.standing import NO_STANDING, Standing, current_standing, standing_of
from tests.support.counted import attributes, count
from tests.support.grades import AGE, DIRECTION, FORCE, RATE, declared, each, fixed, grade, mean, sampled
from tests.support.judging import compiled
from tests.support.ledgers import batch, strike
from tests.support.lots import lot_at_the_edge

AT = datetime(2026, 11, 26, tzinfo=UTC)
RUNNAGE = {"name": "runnage", "unit": "m/kg", "sample": fixed(2)}
FORCE_OF_TWO = sampled(FORCE, 2, 2)
REQUIREMENTS = (mean(lower=1400), each(lower=1200), mean(of="runnage", lower=120), declared("Z", of="twist_direction"))


def changed(kind: str, key: str, number: int, document: msgspec.Struct) -> Change:
    """A change as it is kept."""
    return Change(number=number, at=AT, by="local", kind=kind, key=key, digest="", document=encoded(document))


def opened(lot: Mapping[str, Any]) -> Change:
    """The first change of a lot of which this is told."""
    told = {name: value for name, value in lot.items() if name in {"size", "length", "mass", "inspection"}}
    return changed(OPENED, "", 1, msgspec.convert({"grade": "TB-130", "revision": 1, **told}, CarriedOpening))


def batches(rng: Random, evidence: Mapping[str, Any]) -> Iterator[Batch]:
    """The evidence in batches of one to three readings, and what is declared before one of them."""
    parts = list(parts_of(rng, evidence["series"]))
    where = rng.randrange(len(parts) + 1)
    documents = [{"series": [part]} for part in parts]
    if "declared" in evidence:
        documents.insert(where, {"declared": evidence["declared"]})
    for number, document in enumerate(documents):
        yield msgspec.convert({"batch": f"B{number}", **document}, Batch)


def parts_of(rng: Random, series: list[dict[str, Any]]) -> Iterator[dict[str, Any]]:
    """Each series in parts, one behind the other; of a long one the first readings."""
    for each_one in series:
        start = 0
        while start < min(len(each_one["values"]), 30):
            end = start + rng.choice((1, 1, 2, 3))
            columns: dict[str, Any] = {
                name: each_one[name][start:end] for name in ("values", "packages", "remarks") if name in each_one
            }
            yield {**each_one, **columns}
            start = end


def follow(of: CompiledGrade, changes: list[Change]) -> Iterator[tuple[Standing, Standing]]:
    """After each change, where the lot stands that was followed, and where it stands for who has all its changes at once."""
    followed, before = LotHistory("0412-07"), NO_STANDING
    for number, change in enumerate(changes, start=1):
        followed.add(change)
        afresh = LotHistory("0412-07")
        for each_one in changes[:number]:
            afresh.add(each_one)
        anew = standing_of(afresh, of, before)
        before = anew
        yield current_standing(followed, of), anew


@pytest.mark.parametrize("seed", range(100))
def test_a_lot_that_is_followed_stands_where_it_does_for_who_sees_it_whole(seed: int) -> None:
    """Lots at the edge of all kinds, in small batches: requirements, what has moved, digest and flaws, after each."""
    rng = Random(seed)
    specification, evidence = lot_at_the_edge(rng)
    of = compiled(specification)
    changes = [opened(evidence["lot"])]
    changes += [changed(BATCH, one.batch, number, one) for number, one in enumerate(batches(rng, evidence), start=2)]

    for followed, anew in follow(of, changes):
        assert anew == followed


def test_a_remark_is_seen_by_a_lot_that_was_followed() -> None:
    """A reading that comes with a remark is not taken for one without."""
    of = compiled(grade(*REQUIREMENTS, of=[FORCE_OF_TWO, RUNNAGE, DIRECTION]))
    sent = [batch("B0", 1432.5), batch("B1", 1100, of_series={"remarks": ["broke_at_clamp"]}), batch("B2", 1500)]
    changes = [opened({}), *(changed(BATCH, one.batch, number, one) for number, one in enumerate(sent, start=2))]

    for followed, anew in follow(of, changes):
        assert anew == followed


def test_a_strike_is_seen_by_a_lot_that_was_followed() -> None:
    """Readings that were taken up already do not stay in."""
    of = compiled(grade(*REQUIREMENTS, of=[FORCE_OF_TWO, RUNNAGE, DIRECTION]))
    sent = [batch(f"B{number}", 1432.5 + number, 1100, of_series={"packages": ["b1", f"b{number}"]}) for number in range(4)]
    changes = [opened({}), *(changed(BATCH, one.batch, number, one) for number, one in enumerate(sent, start=2))]
    changes.append(changed(STRIKE, "S1", len(changes) + 1, strike("S1", "B1", "/series/0/values/1")))
    changes.append(changed(BATCH, "B9", len(changes) + 1, batch("B9", 1500, of_series={"packages": ["b7"]})))

    for followed, anew in follow(of, changes):
        assert anew == followed


def test_another_copy_of_a_lot_takes_up_nothing_of_this_one() -> None:
    """What is only tried, as a change that waits for its verdict, leaves no reading behind."""
    of = compiled(grade(*REQUIREMENTS, of=[FORCE_OF_TWO, RUNNAGE, DIRECTION]))
    folded = LotHistory("0412-07")
    folded.add(opened({}))
    folded.add(changed(BATCH, "B1", 2, batch("B1", 1432.5)))
    before = current_standing(folded, of)
    current_standing(folded.with_change(changed(BATCH, "B2", 3, batch("B2", 900))), of)
    folded.add(changed(BATCH, "B3", 3, batch("B3", 1500)))
    after = current_standing(folded, of)

    anew = standing_of(folded, of, before)
    assert anew == after


def test_a_lot_that_is_told_its_size_is_judged_by_it() -> None:
    """How much a plan asks for is another thing then, though no reading has come."""
    of = compiled(grade(mean(lower=1400), of={**FORCE, "sample": {"plan": "every"}}))
    told = msgspec.convert({"batch": "B2", "lot": {"size": 3}}, Batch)
    changes = [opened({}), changed(BATCH, "B1", 2, batch("B1", 1432.5)), changed(BATCH, "B2", 3, told)]

    for followed, anew in follow(of, changes):
        assert anew == followed


TOLD: Sequence[Mapping[str, Any]] = (
    {"series": [{"characteristic": "breaking_force", "unit": "N", "values": [1432.5]}]},
    {"declared": [{"characteristic": "twist_direction", "value": "Z"}]},
    {"series": [{"characteristic": "breaking_force", "unit": "N", "values": [1380, 1399]}]},
    {"counts": [{"fault": "knot", "occurrences": 3, "looked_at": {"value": 5000, "unit": "m"}}]},
    {"series": [{"characteristic": "runnage", "unit": "m/kg", "values": [130.5]}]},
    {"dates": [{"event": "made", "date": "2026-11-01"}, {"event": "asked", "date": "2026-10-01"}]},
    {"series": [{"characteristic": "breaking_force", "unit": "N", "values": [1500]}]},
    {"counts": [count(80, 3), count(80, 0, stage=2)]},
    {"series": [{"characteristic": "breaking_force", "unit": "N", "values": [1400]}]},
)


def test_what_is_told_beside_readings_is_seen_by_a_lot_that_was_followed() -> None:
    """Counts, dates and declarations between the readings.

    Two days in the wrong order and a second stage that nobody called for are flaws while they are in, and none once struck; so
    is a state of a line that is of no class.
    """
    specification = grade(
        mean(lower=1400), each(lower=1200), declared("Z", of="twist_direction"), of=[FORCE, RUNNAGE, DIRECTION]
    )
    specification["requirements"] += [{"id": "knots", **RATE}, {"id": "age", **AGE}, {"id": "look", **attributes()}]
    sent = [msgspec.convert({"batch": f"B{number}", **told}, Batch) for number, told in enumerate(TOLD)]
    changes = [opened({"size": 480}), *(changed(BATCH, one.batch, number, one) for number, one in enumerate(sent, start=2))]
    for number, (of, at) in enumerate((("B5", "/dates/1"), ("B7", "/counts/1"), ("B1", "/declared/0"))):
        changes.append(changed(STRIKE, f"S{number}", len(changes) + 1, strike(f"S{number}", of, at)))

    again = msgspec.convert({"batch": "B9", "declared": [{"characteristic": "twist_direction", "value": "S"}]}, Batch)
    changes.append(changed(BATCH, "B9", len(changes) + 1, again))
    changes.append(changed(STRIKE, "S3", len(changes) + 1, strike("S3", "B9", "/declared/0")))
    tightened = {"id": "M1", "revision": 2, "reason": "A line that is tightened.", "carried": [{"state": "tightened"}]}
    changes.append(changed(MOVED, "M1", len(changes) + 1, msgspec.convert(tightened, CarriedMove)))

    found = list(follow(compiled(specification), changes))

    assert [anew for _, anew in found] == [followed for followed, _ in found]
    assert [7, 8, 9, 10, 11, 16] == [followed.changes for followed, _ in found if followed.flaws]


def test_a_lot_moved_to_another_revision_stands_by_that_one_alone() -> None:
    """Nothing of a requirement stays that the newer revision does not have, nor what it was judged by."""
    older, newer = compiled(grade(mean(lower=1400), each(lower=1200))), compiled(grade(mean(lower=1500)))
    folded = LotHistory("0412-07")
    folded.add(opened({}))
    folded.add(changed(BATCH, "B1", 2, batch("B1", 1432.5)))
    before = current_standing(folded, older)
    moved = msgspec.convert({"id": "M1", "revision": 2, "reason": "A newer edition."}, RevisionMoved)
    folded.add(changed(MOVED, "M1", 3, moved))

    anew = standing_of(folded, newer, before)
    assert anew == current_standing(folded, newer)
