"""A check of a reading whose lot is known: what is outside in the lot already counts against what may be outside."""

import json
from collections.abc import Mapping

import msgspec
import pytest

from service.engine.checking import judge_reading
from service.engine.documents import Check, CheckAnswer, Evidence, Finding
from service.engine.judging import prepared_evidence, used_up
from tests.support.grades import EFFICIENCY, FORCE, KNOT_FORCE, Document, each, grade, lot, mean, series
from tests.support.judging import compiled

TWO_MAY = grade(each(lower=1120, allowed_outside={"count": 2}, outer={"lower": 980}))
CHECK = {"grade": "TB-130", "characteristic": "breaking_force", "unit": "N"}


def used(specification: Document, *values: float, **members: object) -> Mapping[str, int]:
    """How many of these readings are outside, by requirement."""
    evidence = lot({**series(*values), **members}) if values else lot()
    return used_up(compiled(specification), prepared_evidence(msgspec.json.decode(json.dumps(evidence), type=Evidence)))


def answer(specification: Document, value: float, *before: float) -> CheckAnswer:
    """What this reading comes to after those."""
    check = msgspec.json.decode(json.dumps({**CHECK, "value": value}), type=Check)
    return judge_reading(compiled(specification), check, already_outside=used(specification, *before))


def finding(specification: Document, value: float, *before: float) -> Finding:
    """The finding of its first requirement."""
    return answer(specification, value, *before).findings[0]


@pytest.mark.parametrize(
    ("value", "before", "outcome"),
    [
        (1119, (), "undecided"),
        (1119, (1119, 1120), "undecided"),
        (1119, (1119, 1118), "fail"),
        (1119, (1119, 1118, 1117), "fail"),
        (1120, (1119, 1118), "pass"),
        (979, (), "fail"),
    ],
)
def test_one_outside_fails_once_as_many_are_outside_as_may_be(value: float, before: tuple[float, ...], outcome: str) -> None:
    """Two may be outside: the third shows red at the station, a good reading still green."""
    assert outcome == answer(TWO_MAY, value, *before).outcome


def test_a_used_up_allowance_says_so() -> None:
    """The operator sees that this reading alone was not what failed the lot."""
    found = finding(TWO_MAY, 1100, 1119, 1118)

    assert (
        "This breaking force, 1100 N, is 20 N below the lower limit of 1120 N; 2 readings of a lot may be outside, and "
        "this lot has 2 already."
    ) == found.reasons[0].text
    assert ("allowance-used-up", "/requirements/0/allowed_outside", ["/value"]) == (
        found.reasons[0].code,
        found.reasons[0].rule,
        list(found.reasons[0].at),
    )
    assert {"value": 1100, "limit": 1120, "unit": "N", "by": 20, "allowed": 2, "used": 2} == found.reasons[0].with_
    assert -20 == found.margin


def test_an_allowance_in_part_used_is_told() -> None:
    """One more may be outside, and the station warns."""
    found = finding(TWO_MAY, 1100, 1119, 1300)

    assert ("outside-if-allowed", 1) == (found.reasons[0].code, found.reasons[0].with_["used"])
    assert (
        "This breaking force, 1100 N, is 20 N below the lower limit of 1120 N; up to 2 of a lot's readings may be "
        "outside, and 1 of this lot's is already, so the lot decides."
    ) == found.reasons[0].text


def test_a_percentage_is_never_used_up_by_a_check() -> None:
    """It grows with every reading that is still to come."""
    specification = grade(each(lower=1120, allowed_outside={"percent": 10}))

    assert ("undecided", 2) == (
        answer(specification, 1100, 1119, 1118).outcome,
        finding(specification, 1100, 1119, 1118).reasons[0].with_["used"],
    )


def test_what_is_struck_uses_up_nothing() -> None:
    """A struck reading is as if never sent; neither does an empty lot use anything."""
    assert {"r0": 1} == used(TWO_MAY, 1119, 1118, remarks=["struck", ""])
    assert {"r0": 0} == used(TWO_MAY)


def test_limits_that_are_not_known_before_the_lot_use_up_nothing() -> None:
    """Between guarded limits nobody can say which readings are outside: one more decides nothing."""
    decision = {"rule": "guarded_acceptance", "uncertainty": {"expanded": 10, "coverage_factor": 2}, "between": "undecided"}
    specification = grade(each(lower=1120, allowed_outside={"count": 1}, decision=decision))

    assert {"r0": 0} == used(specification, 1000, 1000)
    assert "undecided" == answer(specification, 1000, 1000, 1000).outcome


def test_requirements_that_allow_none_need_no_count() -> None:
    """A reading outside fails by itself there."""
    assert {} == used(grade(each(lower=1120), each(lower=1120, over="packages", allowed_outside={"count": 1})), 1000)


def test_readings_that_wait_for_their_partners_are_counted() -> None:
    """Half-way through a lot more is broken straight than knotted, and a station asks all the while."""
    specification = grade(
        each(lower=1120, allowed_outside={"count": 1}),
        mean(lower=50, of="knot_efficiency"),
        of=[FORCE, KNOT_FORCE, EFFICIENCY],
    )
    evidence = lot(series(1119, 1118), series(700, of=KNOT_FORCE))

    assert {"r0": 2} == used_up(
        compiled(specification), prepared_evidence(msgspec.json.decode(json.dumps(evidence), type=Evidence))
    )
