"""What is told of instruments, and what it says of the readings that were taken with them."""

import json
from datetime import UTC, date, datetime

import msgspec
import pytest

from service.engine.documents import Calibration, Evidence, Uncertainty
from service.engine.ledger import (
    BATCH,
    OPENED,
    Batch,
    Change,
    Instrument,
    LotHistory,
    MarkedBatch,
    Opening,
    encoded,
    instrument_flaws,
    marks_on,
    measuring_flaws,
)
from service.engine.ledger.documents import Marks
from service.engine.ledger.history import assemble
from tests.support.grades import FORCE, RUNNAGE, Document, grade, mean, series
from tests.support.judging import compiled

TODAY = date(2026, 11, 26)
STRANDS: Document = {"name": "strands"}
FOUR_NEWTONS: Document = {"unit": "N", "expanded": 4, "coverage_factor": 2}
KNOWN = compiled(grade(mean(lower=1), of=[FORCE, RUNNAGE, STRANDS])).characteristics


def instrument(*measures: str, **members: object) -> Instrument:
    """An instrument that measures forces, where nothing else is named."""
    return msgspec.convert({"measures": list(measures) or ["force"], **members}, Instrument)


def batch(*columns: Document, **members: object) -> Batch:
    """A batch of these series."""
    return msgspec.convert({"batch": "B", "instrument": "TT-2", "series": list(columns), **members}, Batch)


def flaws_of(document: Instrument) -> list[tuple[str, str]]:
    """(code, pointer) of each."""
    return [(flaw.code, flaw.at) for flaw in instrument_flaws(document)]


def marks(sent: Batch, known: Instrument) -> Marks:
    """What its version 3 says of a batch today."""
    return marks_on(sent, known, 3, TODAY, KNOWN)


def stated(sent: Batch, known: Instrument) -> list[tuple[int, Uncertainty]]:
    """(series, its uncertainty) of those that get one from their instrument."""
    return [(each.series, each.uncertainty) for each in marks(sent, known).uncertainties or ()]


@pytest.mark.parametrize(
    ("document", "flaws"),
    [
        (instrument("breaking_force", "ratio", uncertainty=[FOUR_NEWTONS, {**FOUR_NEWTONS, "unit": "%"}]), []),
        (instrument("twist_direction", "category"), [("category-not-measured", f"/measures/{each}") for each in (0, 1)]),
        (instrument(calibrated_until="2026-02-29"), [("no-such-day", "/calibrated_until")]),
        (instrument(uncertainty=[{**FOUR_NEWTONS, "unit": "Nm"}]), [("unknown-unit", "/uncertainty/0/unit")]),
        (instrument(uncertainty=[{**FOUR_NEWTONS, "unit": "kg"}]), [("unit-of-other-quantity", "/uncertainty/0/unit")]),
        (instrument("moisture-of-ours", uncertainty=[{**FOUR_NEWTONS, "unit": "%"}]), []),
        (
            instrument(uncertainty=[FOUR_NEWTONS, {**FOUR_NEWTONS, "unit": "lbf"}]),
            [("uncertainty-twice", "/uncertainty/1/unit")],
        ),
        (instrument(uncertainty=[{**FOUR_NEWTONS, "percent": 1}]), [("expanded-or-percent", "/uncertainty/0")]),
        (
            instrument(uncertainty=[{"unit": "N", "percent": 100, "coverage_factor": 2}]),
            [("uncertainty-too-great", "/uncertainty/0/percent")],
        ),
    ],
)
def test_what_is_wrong_with_what_is_told_of_an_instrument(document: Instrument, flaws: list[tuple[str, str]]) -> None:
    """A slip in the register would mark every reading of a shift."""
    assert flaws == flaws_of(document)


def test_the_two_sentences_of_units_say_what_to_do() -> None:
    """Whoever keeps the register mends it without asking."""
    [other] = instrument_flaws(instrument("force", "elongation_at_break", uncertainty=[{**FOUR_NEWTONS, "unit": "kg"}]))
    [twice] = instrument_flaws(instrument(uncertainty=[FOUR_NEWTONS, {**FOUR_NEWTONS, "unit": "lbf"}]))

    assert (
        "`kg` is a unit of mass, and the instrument measures `force` and `elongation_at_break`. Correct the unit, or add to "
        "`measures`."
    ) == other.text
    assert "An uncertainty of force is already given at /uncertainty/0. Remove one of the two." == twice.text


@pytest.mark.parametrize("measures", ["breaking_force", "force"])
def test_an_instrument_measures_a_characteristic_by_name_or_by_quantity(measures: str) -> None:
    """A tensile tester takes whatever breaks."""
    assert [] == list(measuring_flaws("TT-2", instrument(measures), batch(series(1400)), KNOWN))


def test_an_instrument_that_does_not_measure_it_is_a_flaw_of_the_series() -> None:
    """A balance's id in a tester's batch is a slip that a claim would find."""
    [flaw] = measuring_flaws("TT-2", instrument(), batch(series(1400), series(130, of=RUNNAGE)), KNOWN)

    assert ("not-measured-by-instrument", "/series/1/characteristic") == (flaw.code, flaw.at)
    assert (
        "Instrument `TT-2` does not measure runnage; it measures `force`. "
        "Send these readings in a batch of their own with the right instrument, or correct the instrument's `measures`."
    ) == flaw.text


@pytest.mark.parametrize(
    ("until", "measured_at", "mark"),
    [
        ("2026-11-26", None, "none"),
        ("2026-11-25", None, "overdue"),
        ("2026-11-25", "2026-11-25T23:59:59Z", "none"),
        ("2026-11-25", "2026-11-26T00:30:00+01:00", "overdue"),
        ("2026-11-25", "2026-11-25T22:30:00-05:00", "none"),
        (None, None, "none"),
    ],
)
def test_an_instrument_is_overdue_from_the_day_after_its_last(until: str | None, measured_at: str | None, mark: str) -> None:
    """A certificate names the last good day, by the calendar on the wall beside the instrument."""
    known = instrument(**({"calibrated_until": until} if until else {}))
    found = marks(batch(series(1400), **({"measured_at": measured_at} if measured_at else {})), known)

    assert (3, mark) == (found.version, found.calibration or "none")


@pytest.mark.parametrize(
    ("unit", "expanded"),
    # A pound-force is 4.448 221 615 260 5 N: 4/4.4482216152605 is 0.899 235 772 398 841 9…
    [("N", 4.0), ("kN", 0.004), ("cN", 400.0), ("lbf", 0.8992357723988419)],
)
def test_its_uncertainty_comes_in_the_unit_of_the_series(unit: str, expanded: float) -> None:
    """The register states it once, and stations send what they send."""
    known = instrument(uncertainty=[FOUR_NEWTONS])

    assert [(0, Uncertainty(2, expanded))] == stated(batch(series(1400, unit=unit)), known)


def test_what_the_caller_states_stands() -> None:
    """Whoever has averaged three readings knows better than the register."""
    own = {**series(1400), "uncertainty": {"expanded": 2, "coverage_factor": 2}}

    assert [(1, Uncertainty(2, 4.0))] == stated(batch(own, series(1400)), instrument(uncertainty=[FOUR_NEWTONS]))


@pytest.mark.parametrize(
    ("column", "uncertainty", "expected"),
    [
        (series(7.7, of=RUNNAGE, unit="ktex"), {"unit": "tex", "expanded": 5, "coverage_factor": 2}, []),
        (
            series(7.7, of=RUNNAGE, unit="ktex"),
            {"unit": "tex", "percent": 1, "coverage_factor": 2},
            [Uncertainty(2, percent=1)],
        ),
        (series(130, of=RUNNAGE), {"unit": "tex", "percent": 1, "coverage_factor": 2}, []),
        (series(3, of=STRANDS, unit="1"), {"unit": "%", "expanded": 1, "coverage_factor": 2}, []),
        (series(1400, unit="tf"), {"unit": "mN", "expanded": 1e-9, "coverage_factor": 2}, []),
    ],
)
def test_an_uncertainty_that_comes_to_no_number_is_left_out(
    column: Document, uncertainty: Document, expected: list[Uncertainty]
) -> None:
    """A guarded requirement then says that it is missing, which is no wrong green."""
    known = instrument("runnage", "force", "strands", "linear_density", uncertainty=[uncertainty])

    assert expected == [each for _, each in stated(batch(column), known)]


def change(number: int, kind: str, document: bytes) -> Change:
    """A change as it is kept."""
    return Change(number=number, at=datetime.now(UTC), by="x", kind=kind, key=str(number), digest="", document=document)


def evidence(*kept: Batch) -> Evidence:
    """What a lot with these batches comes to."""
    opening = change(1, OPENED, encoded(Opening("TB-130", 1)))
    return assemble("L-1", [opening, *(change(number, BATCH, encoded(each)) for number, each in enumerate(kept, start=2))])


def marked(*values: float, calibration: Calibration) -> MarkedBatch:
    """A batch from an overdue instrument that is known to be uncertain by 4 N."""
    document = {
        **json.loads(msgspec.json.encode(batch(series(*values)))),
        "batch": f"M-{values[0]:g}",
        "marks": {
            "version": 3,
            "calibration": calibration,
            "uncertainties": [{"series": 0, "uncertainty": {"expanded": 4, "coverage_factor": 2}}],
        },
    }
    return msgspec.convert(document, MarkedBatch)


def test_marks_stand_in_the_evidence_and_keep_readings_apart() -> None:
    """One shift's overdue instrument is not laid on the next one's readings, nor is it lost among them."""
    found = evidence(batch(series(1400)), marked(1410, 1420, calibration="overdue"), marked(1430, calibration="overdue"))

    assert [
        {**series(1400)},
        {
            **series(1410, 1420, 1430),
            "calibration": "overdue",
            "uncertainty": {"coverage_factor": 2, "expanded": 4},
        },
    ] == msgspec.to_builtins(found.series)


def test_an_overdue_instrument_of_the_callers_own_word_keeps_readings_apart_too() -> None:
    """A mill that keeps no register marks its series itself."""
    found = evidence(batch(series(1400)), batch({**series(1410), "calibration": "overdue"}))

    assert [[1400], [1410]] == [each.values for each in found.series or ()]


def test_a_lot_that_is_tried_with_a_batch_more_keeps_its_own_marks() -> None:
    """What is only foreseen, and perhaps refused, is no answer to who sends it again."""
    lot = LotHistory("L-1")
    lot.add(change(1, OPENED, encoded(Opening("TB-130", 1))))
    tried = lot.with_change(change(2, BATCH, encoded(marked(1410, calibration="overdue"))))

    assert ({}, ["M-1410"]) == (lot.marks, list(tried.marks))


def test_marks_take_nothing_away() -> None:
    """What the caller has said of an instrument is not unsaid by a register that is behind."""
    sent = batch({**series(1400), "calibration": "overdue"})
    found = evidence(MarkedBatch(**msgspec.structs.asdict(sent), marks=Marks(3)))

    assert ["overdue"] == [each.calibration for each in found.series or ()]
