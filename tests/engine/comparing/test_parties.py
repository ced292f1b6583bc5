"""Two sides' evidence on one lot: finding beside finding, and every way in which what was done differs is said."""

from typing import Any

import msgspec
import pytest

from service.engine.comparing import BothParties, Divergence, Party, compared, differing, received_later
from service.engine.documents import Evidence
from service.engine.grade import CompiledGrade, Specification, compile_specification
from service.engine.judging import judge
from service.engine.lot import day_of
from tests.support.grades import AGE, DIRECTION, FORCE, KNOT_FORCE, RATE, RUNNAGE, Document, declared, grade, lot, mean, series

MOISTURE: Document = {"name": "moisture_content", "unit": "%"}
BIG: Document = {
    "kind": "attributes",
    "class": "major",
    "faults": ["slub"],
    "accept": 1,
    "sample": {"plan": "fixed", "packages": 2},
}


def compiled(document: Document) -> CompiledGrade:
    """A grade."""
    return compile_specification(msgspec.convert(document, Specification))


STRONG = compiled(grade(mean(id="strength", lower=1400), of=[FORCE, KNOT_FORCE, RUNNAGE, DIRECTION, MOISTURE]))


def side(by: CompiledGrade, document: Document) -> Party:
    """One side with its verdict."""
    evidence = msgspec.convert(document, Evidence)
    return Party(evidence, judge(by, evidence))


def both(by: CompiledGrade, ours: Document, theirs: Document) -> BothParties:
    """Both sides."""
    return BothParties(side(by, ours), side(by, theirs))


def told(ours: Document, theirs: Document, by: CompiledGrade = STRONG, name: str = "strength") -> dict[str, str]:
    """What is said of a requirement, by codes."""
    [found] = compared(by, *both(by, ours, theirs), [name])
    assert len({each.code for each in found.differ}) == len(found.differ)
    return {each.code: each.text for each in found.differ}


def of_lot(ours: Document, theirs: Document, by: CompiledGrade = STRONG) -> dict[str, str]:
    """What is said of the lot as a whole."""
    return {each.code: each.text for each in differing(by, both(by, ours, theirs), ["strength"])}


def forces(*values: float, **members: Any) -> Document:
    """A lot with one series of breaking forces in newtons."""
    return lot({**series(*values), **members})


def test_findings_stand_beside_each_other() -> None:
    """Each side's own, by the same requirement, in the claim's order."""
    by = compiled(grade(mean(id="a", lower=1400), mean(id="b", lower=1300)))
    found = compared(by, *both(by, forces(1410), forces(1350)), ["b", "a"])

    assert [("b", "pass", "pass"), ("a", "pass", "fail")] == [
        (each.requirement, each.ours.outcome, each.theirs.outcome) for each in found if each.theirs
    ]
    assert {1350} == {each.theirs.measured.value for each in found if each.theirs and each.theirs.measured}


def test_without_their_evidence_ours_stands_alone() -> None:
    """Nothing is said of what is not there."""
    [found] = compared(STRONG, side(STRONG, forces(1410)), None, ["strength"])

    assert ("pass", msgspec.UNSET, ()) == (found.ours.outcome, found.theirs, tuple(found.differ))


def test_what_was_done_alike_differs_in_nothing() -> None:
    """What came of it may differ: the values are no difference in method."""
    ours = forces(1410, 1420, packages=["b1", "b2"], method="ISO 2307")
    theirs = forces(1350, 1360, packages=["b1", "b2"], method="ISO 2307")

    assert {} == told(ours, theirs)
    assert {} == of_lot(ours, theirs)


@pytest.mark.parametrize(
    ("ours", "theirs", "expected"),
    [
        (
            forces(1410, 1420, 1430, packages=["a", "a", "b"]),
            forces(1410, packages=["a"]),
            {"sample-sizes": "Of breaking force we have 3 readings of 2 packages, and they have 1 reading of 1 package."},
        ),
        (
            forces(1410, 1420, packages=["a", "b"]),
            forces(1410, 1420, packages=["c", "b"]),
            {"packages": "We tested 2 packages, they tested 2 packages; 1 is in both: `b`."},
        ),
        (
            forces(1410, packages=["a"]),
            forces(1410, packages=["c"]),
            {"packages": "We tested 1 package, they tested 1 package; none is in both."},
        ),
        (
            forces(1410, packages=["a"]),
            forces(1410),
            {"packages": "We name all their packages and they do not, so which packages are in both is not known."},
        ),
        (
            forces(1410, method="ISO 2307"),
            forces(1410),
            {
                "methods": (
                    "Our readings were taken by `ISO 2307`, theirs by a method that is not given. "
                    "Another method may give another breaking force."
                )
            },
        ),
        (
            forces(1410),
            forces(331.5, unit="lbf"),
            {"units": "Our readings are in `N`, theirs in `lbf`; all are converted exactly."},
        ),
        (
            forces(1410, uncertainty={"expanded": 8, "coverage_factor": 2}),
            forces(1410, uncertainty={"percent": 0.5, "coverage_factor": 2}),
            {
                "uncertainties": (
                    "For breaking force we give an expanded uncertainty of 8 N (coverage factor 2), and "
                    "they give an expanded uncertainty of 0.5 % of the value (coverage factor 2)."
                )
            },
        ),
        (
            forces(1410),
            forces(1410, uncertainty={"expanded": 8, "coverage_factor": 2}),
            {
                "uncertainties": (
                    "For breaking force we give no uncertainty, and they give an expanded uncertainty of "
                    "8 N (coverage factor 2)."
                )
            },
        ),
        (
            forces(1410),
            forces(1410, calibration="overdue"),
            {"calibration": "Their readings come, at least in part, from an instrument overdue for calibration; ours do not."},
        ),
        (
            forces(1410, calibration="overdue"),
            forces(1410),
            {"calibration": "Our readings come, at least in part, from an instrument overdue for calibration; theirs do not."},
        ),
        (
            forces(1410, 1420, 1390, remarks=["", "confirmed", "struck"]),
            forces(1410, 1420),
            {"remarks": "Remarks on our readings: 1 `confirmed`, 1 `struck`; on theirs: none."},
        ),
    ],
)
def test_each_way_to_differ_is_said_in_a_sentence(ours: Document, theirs: Document, expected: dict[str, str]) -> None:
    """And nothing else is: who reads it may rely on both."""
    assert expected == told(ours, theirs)


def test_specimens_of_several_packages_are_told() -> None:
    """A skein of five packages evens out what single ones show."""
    found = told(forces(1410, packages_per_specimen=5), forces(1410))

    assert "Our specimens are made up of 5 packages each, theirs of 1 package." == found["packages-per-specimen"]


def test_a_second_sample_is_told() -> None:
    """Ours was retested, theirs not."""
    retested = grade(
        {**mean(id="strength", lower=1400), "retest": {"sample": {"plan": "fixed", "packages": 1}, "judge": "second"}}
    )
    by = compiled(retested)
    ours = lot(series(1390), {**series(1410), "stage": 2})

    assert "We have a second sample; they have only a first sample." == told(ours, forces(1390), by)["stages"]


def test_a_unit_that_is_turned_round_is_told() -> None:
    """A mean of tex is not the mean of m/kg."""
    by = compiled(grade(mean(id="strength", lower=100), of=RUNNAGE))
    found = told(lot(series(130, of=RUNNAGE)), lot(series(7700, of=RUNNAGE, unit="tex")), by)

    assert found["units"].endswith("all are converted exactly. Those in `tex` are inverted into m/kg one by one.")


def test_knotted_specimens_are_told_from_straight_ones() -> None:
    """Their laboratory knotted the twine: that says nothing of a requirement on straight specimens."""
    found = told(forces(1410), lot(series(900, of=KNOT_FORCE)))

    assert {
        "not-measured": "We measured breaking force and they did not, so the two cannot be compared.",
        "straight-or-knotted": (
            "They measured knot breaking force instead: a knot weakens a specimen, and neither force gives the other."
        ),
    } == found
    assert "straight-or-knotted" not in told(forces(1410), lot())


@pytest.mark.parametrize(("ours", "theirs", "whose"), [(True, False, "their"), (False, True, "our")])
def test_where_one_side_alone_told_the_moisture_it_is_said(ours: bool, theirs: bool, whose: str) -> None:  # noqa: FBT001  a case
    """Damp sisal breaks otherwise than dry."""
    wet, dry = lot(series(1410), series(11, of=MOISTURE)), forces(1410)
    found = of_lot(wet if ours else dry, wet if theirs else dry)

    assert found["conditioning"].endswith(f"so how {whose} specimens were conditioned is not known.")
    assert {"conditioning"} == set(found)


def test_what_differs_of_the_lot_is_told_once() -> None:
    """Not for each requirement."""
    ours = {**forces(1410), "lot": {"id": "0412-07", "size": 480, "length": {"value": 62.4, "unit": "km"}}}
    theirs = {**forces(1410), "lot": {"id": "B-9", "size": 48, "inspection": "tightened"}}
    found = of_lot(ours, theirs)

    assert {} == told(ours, theirs)
    assert {
        "lots": "Our evidence is of lot `0412-07`, theirs of `B-9`. Make sure that it is the same lot.",
        "lot-sizes": (
            "By our evidence the lot has 480 packages, by theirs 48 packages. Samples and allowances may depend on it."
        ),
        "lot-length": "The length of the lot is 62.4 km in our evidence and not given in theirs.",
        "inspection": "We inspected the lot under normal inspection, they under tightened inspection.",
    } == found


def test_the_same_evidence_is_called_the_same() -> None:
    """They sent our own figures back."""
    assert ["same-evidence"] == list(of_lot(forces(1410), forces(1410)))


def test_declarations_differ_where_they_are_told() -> None:
    """Of the requirement where it goes by one, else of the lot; 1 and true are not the same."""
    by = compiled(grade(mean(id="strength", lower=1400), declared("Z", id="way", of="twist_direction"), of=[FORCE, DIRECTION]))
    ours, theirs = lot(series(1410), declared={"twist_direction": "Z"}), lot(series(1420), declared={"twist_direction": True})

    assert {"declarations": "Twist direction is `Z` in our evidence and true in theirs."} == told(ours, theirs, by, "way")
    assert {} == told(ours, theirs, by)
    assert {"declarations"} == set(of_lot(ours, theirs, by))
    assert "not given in theirs." in of_lot(ours, lot(series(1420)), by)["declarations"]


def test_dates_differ_where_a_requirement_goes_by_them() -> None:
    """They asked a year later."""
    by = compiled({"characteristics": [], "requirements": [{**AGE, "id": "age"}]})
    made = {"event": "made", "date": "2026-01-10"}
    ours = {**lot(), "dates": [made, {"event": "asked", "date": "2026-11-26"}]}
    [found] = compared(by, *both(by, ours, {**lot(), "dates": [made, {"event": "asked", "date": "2027-06-01"}]}), ["age"])
    [missing] = compared(by, *both(by, ours, {**lot(), "dates": [made]}), ["age"])

    assert [Divergence("dates", "The date of `asked` is 2026-11-26 in our evidence and 2027-06-01 in theirs.")] == found.differ
    assert [Divergence("dates", "The date of `asked` is 2026-11-26 in our evidence and not given in theirs.")] == missing.differ


def test_how_much_was_looked_over_is_told() -> None:
    """Knots on 2400 m are not knots on 1000 m."""
    by = compiled({"characteristics": [], "requirements": [{**RATE, "id": "knots"}]})

    def knots(metres: float) -> Document:
        return {**lot(), "counts": [{"fault": "knot", "occurrences": 1, "looked_at": {"value": metres, "unit": "m"}}]}

    [found] = compared(by, *both(by, knots(2400), knots(1000)), ["knots"])
    [none] = compared(by, *both(by, knots(2400), lot()), ["knots"])

    assert [
        Divergence("looked-over", "For fault `knot` the inspected amount is 2400 m in our evidence and 1000 m in theirs.")
    ] == found.differ
    assert [
        Divergence("looked-over", ("For fault `knot` the inspected amount is 2400 m in our evidence and not given in theirs."))
    ] == none.differ


def test_how_late_a_claim_came_is_told() -> None:
    """Goods lie in sun and rain between; a claim before the verdict was not late."""
    june, day = day_of("2027-06-01"), day_of("2026-11-26")
    assert june
    assert day
    [found] = received_later(june, day)

    assert "The claim was received on 2027-06-01, 187 days after our verdict of 2026-11-26." in found.text
    assert [] == [*received_later(day, day), *received_later(day, june)]
