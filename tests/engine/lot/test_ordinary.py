"""The fast path to a lot makes the very lot that the other one makes, and leaves to that whatever is out of the ordinary."""

from random import Random

import msgspec
import pytest

from service.engine.documents import Evidence
from service.engine.grade import CompiledGrade
from service.engine.judging import prepared_evidence
from service.engine.lot import Lot, ordinary_lot, prepare
from service.engine.requirements import findings_of
from tests.support.grades import (
    DIRECTION,
    FORCE,
    KNOT_FORCE,
    RUNNAGE,
    Document,
    declared,
    each,
    grade,
    lot,
    mean,
    series,
    spread,
)
from tests.support.judging import compiled

GRADE = grade(
    mean(lower=1400),
    each(lower=1120, allowed_outside={"count": 1}, over="packages"),
    spread("standard_deviation", 120),
    mean(lower=1, of="runnage"),
    declared("Z", of="twist_direction"),
    of=[FORCE, KNOT_FORCE, RUNNAGE, DIRECTION],
)


def both(specification: Document, evidence: Document) -> tuple[CompiledGrade, Lot | None, Lot]:
    """The grade, and the lot by either path."""
    ready = compiled(specification)
    made = prepared_evidence(msgspec.convert(evidence, Evidence))
    fast = ordinary_lot(ready.characteristics, made.evidence, made.series)
    return ready, fast, prepare(ready.characteristics, ready.derived, ready.requirements, made.evidence, made.series)


@pytest.mark.parametrize("seed", range(40))
def test_both_paths_come_to_the_same_findings(seed: int) -> None:
    """A station must not get another answer because its lot is an ordinary one."""
    rng = Random(seed)
    count = rng.choice([1, 2, 7, 20, 64, 200])
    packages = [f"b{rng.randrange(count)}" for _ in range(count)] if rng.random() < 0.5 else None
    forces = series(*(round(rng.gauss(1410, 60), 1) for _ in range(count)), packages=packages)
    runnages = series(*(round(rng.uniform(7000, 8000), 2) for _ in range(5)), of=RUNNAGE, unit=rng.choice(["tex", "m/kg"]))
    ready, fast, slow = both(GRADE, lot(forces, runnages, size=480))

    assert fast is not None
    assert findings_of(ready.requirements, slow) == findings_of(ready.requirements, fast)


BESIDE = [
    {"stage": 1},
    {"method": "by hand"},
    {"remarks": ["", "slipped"]},
    {"uncertainty": {"percent": 1, "coverage_factor": 2}},
    {"packages_per_specimen": 2},
    {"values": [1400, 0]},
    {"values": [1400, -1]},
    {"values": [1400, 1e13]},
    {"values": []},
    {"packages": ["b1"]},
    {"packages": ["b1", "b\t2"]},
    {"unit": "tex"},
    {"characteristic": "twist"},
]


@pytest.mark.parametrize("beside", BESIDE)
def test_what_is_out_of_the_ordinary_is_left_to_the_other_path(beside: Document) -> None:
    """A flaw that the fast path overlooked would pass a bad lot."""
    made = prepared_evidence(msgspec.convert(lot({**series(1400, 1410), **beside}), Evidence))

    assert ordinary_lot(compiled(GRADE).characteristics, made.evidence, made.series) is None


def test_two_series_of_one_characteristic_and_other_evidence_are_left_to_it() -> None:
    """They add up there."""
    characteristics = compiled(GRADE).characteristics
    dated = {**lot(series(1400)), "dates": [{"event": "made", "date": "2026-11-25"}]}

    for evidence in (lot(series(1400), series(1410)), lot(series(1400), declared={"twist_direction": "Z"}), dated):
        made = prepared_evidence(msgspec.convert(evidence, Evidence))

        assert ordinary_lot(characteristics, made.evidence, made.series) is None
