"""An undecided finding whose sample is short lists what completes it, whatever its reason; a complete one lists nothing.

A lot waits for what is listed, and closes for good where nothing is: what is left out here is lost to an inspector.
"""

from collections.abc import Sequence
from typing import NamedTuple

import msgspec
import pytest

from service.engine.documents import Evidence
from service.engine.ledger import judge_to_store
from tests.support.counted import attributes, count, fault, look_grade, looked_over
from tests.support.grades import (
    EFFICIENCY,
    FORCE,
    KNOT_FORCE,
    RUNNAGE,
    Document,
    each,
    fixed,
    grade,
    lot,
    mean,
    sampled,
    series,
    spread,
    variables,
)
from tests.support.judging import compiled, judged

FIVE = sampled(FORCE, 5)
GUARDED: Document = {"rule": "guarded_acceptance", "uncertainty": {"expanded": 20, "coverage_factor": 2}}
BY_RUNNAGE: Document = {"law": "reciprocal", "numerator": 13000, "of_mean": "runnage", "in": "N"}
OF_LIMIT: Document = {"percent": 90, "of_limit": "r1"}
PLAUSIBLE: Document = {**FIVE, "plausible": {"lower": 10}}
METHOD: Document = {**FIVE, "method": "ISO 2307"}
REMARKS: Document = {**FIVE, "remarks": {"leave_out": ["slipped"]}}
CALIBRATED: Document = {**FIVE, "overdue_calibration": "undecided"}
MARKS: Document = {**FIVE, "remarks": {"passes_outside_marks_at": {"percent": 90}}}
MASS: Document = {"name": "net_mass", "unit": "g"}
LABEL: Document = {"name": "label_mass", "unit": "kg", "quantity": "mass"}
GROSS: Document = {"name": "gross_mass", "unit": "g"}
TARE: Document = {"name": "tare_mass", "unit": "g", "sample": fixed(10)}
NET: Document = {**MASS, "derived": {"kind": "net_of_tare", "gross": "gross_mass", "tare": {"sampled": "tare_mass"}}}
OWN: Document = {
    "kind": "net_content",
    "rule": "own",
    "own": {"sample": fixed(5), "tolerable": {"percent": 2}, "at_most_beyond": 0},
}
KINDS: Sequence[Document] = (
    each(lower=1),
    each(lower=1, over="packages"),
    mean(lower=1),
    spread("standard_deviation", 1000),
    spread("range", 1000),
    variables(1, lower=1),
)


class Case(NamedTuple):
    """A finding that stays undecided for a reason, and what it has to list."""

    code: str
    specification: Document
    evidence: Document
    missing: Sequence[tuple[str, int, int | None]]
    """(characteristic or class, packages, readings), counted by hand."""


def doubted(requirement: Document, of: Document, column: Document) -> tuple[Document, Document]:
    """A grade of one requirement, and a lot of one series."""
    return grade({**requirement, "of": "breaking_force"}, of=of), lot(column, size=480)


def remarked(column: Document, *remarks: str) -> Document:
    """The series with remarks."""
    return {**column, "remarks": list(remarks)}


SHORT = [("breaking_force", 3, 3)]
WHOLE = (120.0, 130.0, 140.0, 150.0)
DOUBTS: Sequence[tuple[str, Document, Document]] = (
    ("implausible", PLAUSIBLE, series(5, 200)),
    ("other-method", METHOD, series(150, 200)),
    ("remark-without-rule", REMARKS, remarked(series(150, 200), "broke_at_clamp", "")),
    ("calibration-overdue", CALIBRATED, {**series(150, 200), "calibration": "overdue"}),
)
CASES: Sequence[Case] = (
    Case("between-guarded-limits", grade(each(lower=100, decision=GUARDED), of=FIVE), lot(series(110, 200)), SHORT),
    Case("readings-missing", grade(each(lower=100, decision=GUARDED), of=FIVE), lot(series(170, 200)), SHORT),
    Case("between-guarded-limits", grade(each(lower=100, decision=GUARDED), of=FIVE), lot(series(110, *WHOLE)), []),
    Case(
        "limit-not-known",
        grade(mean(lower=BY_RUNNAGE), of=[FORCE, sampled(RUNNAGE, 4)]),
        lot(series(150), series(130, of=RUNNAGE)),
        [("runnage", 3, 3)],
    ),
    Case(
        "limit-not-known",
        grade(mean(lower=BY_RUNNAGE), of=[FIVE, sampled(RUNNAGE, 4)]),
        lot(series(150)),
        [("breaking_force", 4, 4), ("runnage", 4, 4)],
    ),
    Case(
        "limit-not-known",
        grade(
            mean(lower=OF_LIMIT, of="knot_breaking_force"),
            mean(lower=BY_RUNNAGE),
            of=[FORCE, KNOT_FORCE, sampled(RUNNAGE, 4)],
        ),
        lot(series(150), series(150, of=KNOT_FORCE), series(130, 131, of=RUNNAGE)),
        [("runnage", 2, 2)],
    ),
    Case(
        "limit-not-known",
        grade(each(lower={"percent": 80, "of_mean": "breaking_force"}), of=FIVE),
        lot(series(150, 160)),
        SHORT,
    ),
    Case(
        "limit-not-known",
        grade(mean(lower={"percent": 98, "of_declared": "knot_breaking_force"}), of=[FIVE, KNOT_FORCE]),
        lot(series(150, 160)),
        SHORT,
    ),
    Case(
        "remark-without-rule",
        grade(each(lower=1, upper=500), of=MARKS),
        lot(remarked(series(150, 200), "broke_outside_marks", "")),
        SHORT,
    ),
    Case(
        "remark-without-rule",
        grade(each(lower=1, upper=500), of=MARKS),
        lot(remarked(series(110, *WHOLE), "broke_outside_marks", "", "", "", "")),
        [],
    ),
    Case(
        "no-partner",
        grade(mean(lower=1), of=[EFFICIENCY, FORCE, sampled(KNOT_FORCE, 2)]),
        lot(series(150)),
        [("knot_breaking_force", 2, 2)],
    ),
    Case(
        "not-all-counted",
        look_grade(attributes(includes=["critical"]), {**attributes(), "class": "critical"}),
        looked_over(count(80, 1)),
        [("critical", 80, None)],
    ),
    Case(
        "not-all-counted",
        look_grade(attributes(faults=["knot", "slub"], counting="occurrences")),
        looked_over(fault("knot", inspected=80, occurrences=1)),
        [("major", 80, None)],
    ),
    Case(
        "limit-not-known",
        grade({**OWN, "of_declared": "label_mass"}, of=[MASS, LABEL]),
        lot(series(1003, 1004, of=MASS), size=480),
        [("net_mass", 3, 3)],
    ),
    Case(
        "implausible",
        grade({**OWN, "nominal": 1000}, of={**MASS, "plausible": {"lower": 10}}),
        lot(series(5, 1003, of=MASS), size=480),
        [("net_mass", 3, 3)],
    ),
    Case(
        "composite-specimen",
        grade({**OWN, "nominal": 1000}, of=MASS),
        lot({**series(1003, 1004, of=MASS), "packages_per_specimen": 2}, size=480),
        [("net_mass", 3, 3)],
    ),
    Case(
        "no-partner",
        grade({**OWN, "nominal": 1000, "of": "net_mass"}, of=[NET, GROSS, TARE]),
        lot(series(1103, 1104, of=GROSS), size=480),
        [("tare_mass", 10, 10), ("gross_mass", 3, 3)],
    ),
)


def missing_in(finding: Document) -> list[tuple[str, int, int | None]]:
    """What it lists."""
    listed = finding.get("missing", [])
    return [(each.get("characteristic") or each["class"], each["packages"], each.get("readings")) for each in listed]


@pytest.mark.parametrize("case", CASES)
def test_what_completes_a_short_sample_is_listed_whatever_keeps_it_undecided(case: Case) -> None:
    """Counted by hand."""
    finding = judged(case.specification, case.evidence)["findings"][0]

    assert ("undecided", case.code) == (finding["outcome"], finding["reasons"][0]["code"])
    assert list(case.missing) == missing_in(finding)


@pytest.mark.parametrize("requirement", KINDS)
@pytest.mark.parametrize(("code", "of", "column"), DOUBTS)
def test_readings_in_doubt_hide_no_shortage(requirement: Document, code: str, of: Document, column: Document) -> None:
    """Two of five are in, of every kind that judges readings; with five in, nothing more is asked for."""
    finding = judged(*doubted(requirement, of, column))["findings"][0]
    further = [150.0] * 3
    whole = {**column, "values": [*column["values"], *further]}
    if "remarks" in column:
        whole["remarks"] = [*column["remarks"], "", "", ""]
    complete = judged(*doubted(requirement, of, whole))["findings"][0]

    assert ("undecided", code, SHORT) == (finding["outcome"], finding["reasons"][0]["code"], missing_in(finding))
    assert ("undecided", code, []) == (complete["outcome"], complete["reasons"][0]["code"], missing_in(complete))


@pytest.mark.parametrize("case", CASES)
def test_a_lot_waits_for_what_is_listed_and_closes_where_nothing_is(case: Case) -> None:
    """The state that the ledger keeps with the verdict."""
    evidence = msgspec.convert(case.evidence, Evidence)

    assert ("waiting" if case.missing else "closed") == judge_to_store(compiled(case.specification), "TB-1", 1, evidence).state
