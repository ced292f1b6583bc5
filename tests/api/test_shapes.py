"""The walk that gathers flaws and the typed decode agree on what is taken."""

import copy
from typing import Any

import msgspec
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from service.api.grades.documents import Release
from service.api.strict.shapes import check_shape
from service.engine.documents import Evidence, is_in_range
from service.engine.grade import Specification
from service.usecases.judging import DrawRequest, LotToGrade, LotToJudge
from tests.support import examples
from tests.support.sizes import of_two

DEPENDING = {
    "characteristics": [{"name": "breaking_force", "unit": "N"}, {"name": "runnage", "unit": "m/kg"}],
    "requirements": [
        {
            "id": "strength",
            "kind": "mean",
            "of": "breaking_force",
            "limits": {
                "lower": {"law": "reciprocal", "numerator": 32400, "of_mean": "runnage", "in": "daN"},
                "below": {"schedule": [{"up_to": 200, "limit": 900}], "of_mean": "runnage"},
            },
            "rounding": {"step": 1, "toward": "down"},
            "decision": {"rule": "guarded_acceptance", "uncertainty": {"percent": 1, "coverage_factor": 2}},
        }
    ],
}
"""Limits that are no numbers, and a decision rule."""
PLANS: list[dict[str, Any]] = [
    {"plan": "percent", "percent": 10, "at_least": 2, "at_most": 20, "counted_in": {"value": 20, "unit": "lb"}},
    {"plan": "square_root", "factor": 0.4, "counted_in": {"value": 220, "unit": "m"}},
    {"plan": "bands", "bands": [{"up_to": 100, "packages": 3}, {"packages": 8}]},
    {"plan": "code_letter", "table": "MIL-STD-105E", "level": "II", "aql": 2.5, "scheme": "double"},
    {"plan": "code_letter", "table": "MIL-STD-414", "letter": "D", "aql": 1, "readings_per_package": 2},
]
LOT = {"id": "L-1", "size": 480, "inspection": "tightened", "length": {"value": 62.4, "unit": "km"}}
REMARKED = {
    "characteristic": "breaking_force",
    "unit": "kN",
    "values": [91, 104],
    "remarks": ["broke_outside_marks", ""],
    "method": "constant rate of traverse",
    "packages_per_specimen": 2,
}
TAKEN_WITH_CARE = [
    {
        "name": "breaking_force",
        "unit": "kN",
        "plausible": {"lower": 10, "upper": 400},
        "method": "constant rate of traverse",
        "remarks": {"leave_out": ["slipped"], "passes_outside_marks_at": {"percent": 90}},
    },
    {
        "name": "commercial_mass",
        "unit": "kg",
        "derived": {
            "kind": "commercial_mass",
            "mass": "net_mass",
            "moisture": "moisture_regain",
            "regain": 14,
            "list": "the buyer's",
            "moisture_by": "mean",
        },
    },
    {
        "name": "runnage",
        "unit": "m/kg",
        "derived": {"kind": "at_standard_regain", "of": "bare", "moisture": "moisture_content", "regain": 14},
    },
]
DOCUMENTS: list[tuple[object, Any]] = [
    (Specification, {"characteristics": TAKEN_WITH_CARE, "requirements": []}),
    (Evidence, {"lot": LOT, "series": [REMARKED]}),
    (Specification, {"characteristics": [{"name": "twist", "sample": plan} for plan in PLANS], "requirements": []}),
    (Evidence, {"lot": {**LOT, "mass": {"value": 4320, "unit": "kg"}}}),
    (Specification, examples.SPECIFICATION),
    (LotToJudge, examples.BY_GRADE),
    (DrawRequest, examples.TO_DRAW),
    (LotToGrade, examples.BY_LIST),
    (LotToJudge, examples.BY_SPECIFICATION),
    (Specification, DEPENDING),
    (Release, {"effective_from": "2026-11-25T00:00:00Z"}),
]
VALUES = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-5, 300),
    st.floats(-3, 1e9, allow_nan=False).filter(is_in_range),
    st.sampled_from(["", "x", "X", "each", "even", "2025-06-01", "2026-11-25T00:00:00", "2026-11-25T00:00:00+02:00", "ü" * 64]),
    st.text(max_size=300),
    st.lists(st.integers(0, 3), max_size=3),
    st.dictionaries(st.sampled_from(["id", "kind", "lower", "x"]), st.integers(0, 3), max_size=2),
)


def places_in(value: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """The paths of all members and items of a document."""
    keys = list(value) if isinstance(value, dict) else range(len(value)) if isinstance(value, list) else []
    below = [place for key in keys for place in places_in(value[key], (*path, key))]
    return [path, *below] if path else below


@st.composite
def mutants(draw: st.DrawFn) -> tuple[object, Any]:
    """A good document with up to three members changed, taken out or put in, and its type."""
    of, good = draw(st.sampled_from(DOCUMENTS))
    document = copy.deepcopy(good)
    for _ in range(draw(st.integers(0, 3))):
        *path, last = draw(st.sampled_from(places_in(document) or [("x",)]))
        holder = document
        for key in path:
            holder = holder[key]
        change = draw(st.sampled_from(["set", "remove", "add"]))
        if change == "set":
            holder[last] = draw(VALUES)
        elif change == "remove" and last in holder:
            del holder[last]
        elif isinstance(holder, dict):
            holder[draw(st.sampled_from(["x", "sample", "rounding", "revision", "limits", "note"]))] = draw(VALUES)
    return of, document


def is_taken(document: object, of: Any) -> bool:
    """Whether msgspec takes it."""
    try:
        msgspec.convert(document, of)
    except msgspec.ValidationError:
        return False
    return True


@settings(max_examples=of_two(1000, 10_000), deadline=None)
@given(mutants())
def test_the_walk_takes_what_the_typed_decode_takes(mutant: tuple[object, Any]) -> None:
    """Else a caller would be told of no flaw and be refused, or of one that is none."""
    of, document = mutant
    flaws = check_shape(document, of)
    # These two are refused by the walk alone.
    assume(not any(flaw.code in {"control-character", "beyond-range"} for flaw in flaws))

    assert is_taken(document, of) is not bool(flaws)


@pytest.mark.parametrize(("of", "document"), DOCUMENTS)
def test_the_examples_have_no_flaws(of: object, document: object) -> None:
    """What the published document shows can be sent as it stands."""
    assert [] == check_shape(document, of)


def test_a_remark_that_is_nearly_right_is_told_the_word_that_is_meant() -> None:
    """The words are many, and `""`, which says that nothing was seen, is none to choose from."""
    (flaw,) = check_shape({"lot": LOT, "series": [{**REMARKED, "remarks": ["", "slippd"]}]}, Evidence)

    assert ("not-known-here", "/series/0/remarks/1") == (flaw.code, flaw.at)
    assert (
        "`slippd` is not known here. Did you mean `slipped`? Use `broke_at_clamp`, `broke_at_splice`, "
        "`broke_outside_marks`, `confirmed`, `machine_limit`, `slipped` or `struck`."
    ) == flaw.text
