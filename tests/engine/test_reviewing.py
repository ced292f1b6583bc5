"""Advice on a specification that has no flaw and yet is seldom what its writer meant."""

from service.engine.documents import Flaw
from service.engine.reviewing import advice_on
from tests.support.counted import attributes, look_grade
from tests.support.grades import (
    DIRECTION,
    EFFICIENCY,
    FORCE,
    KNOT_FORCE,
    RUNNAGE,
    declared,
    each,
    fixed,
    grade,
    mean,
    sampled,
    spread,
)
from tests.support.judging import compiled


def test_a_requirement_without_a_sample_is_advised_on() -> None:
    """One good reading would pass a lot."""
    text = (
        "The grade sets no sample of `breaking_force`, so one reading is enough to pass a lot. "
        "Add a `sample` to the characteristic."
    )

    assert [Flaw("no-sample", text, "/requirements/0")] == advice_on(compiled(grade(mean(lower=1))))


def test_a_spread_without_a_sample_is_told_of_two_readings() -> None:
    """Two equal readings would pass a lot."""
    advice = advice_on(compiled(grade(spread("range", 1))))

    assert "so two readings are enough to pass a lot" in advice[0].text


def test_both_sides_of_a_quotient_need_a_sample() -> None:
    """The one that has none is named."""
    both = advice_on(compiled(grade(each(lower=1), of=[EFFICIENCY, FORCE, KNOT_FORCE])))
    one = advice_on(compiled(grade(each(lower=1), of=[EFFICIENCY, sampled(FORCE, 5), KNOT_FORCE])))

    assert "The grade sets no sample of `knot_breaking_force` and `breaking_force`" in both[0].text
    assert "The grade sets no sample of `knot_breaking_force`, so" in one[0].text


def test_a_sample_anywhere_suffices() -> None:
    """On the characteristic or on the requirement; what is declared needs none."""
    specification = grade(
        each(lower=1),
        each(lower=1, of="runnage", sample=fixed(2)),
        declared("Z", of="twist_direction"),
        of=[sampled(FORCE, 5), RUNNAGE, DIRECTION],
    )

    assert [] == advice_on(compiled(specification))


def test_a_characteristic_that_no_requirement_is_on_is_advised_on() -> None:
    """Its readings are asked for and move nothing; the sides of a quotient that is judged do."""
    specification = grade(each(lower=1), of=[EFFICIENCY, sampled(FORCE, 5), sampled(KNOT_FORCE, 5), RUNNAGE])
    text = "No requirement uses `runnage`, so its readings change no verdict. Add one, or remove it."

    assert [Flaw("no-requirement", text, "/characteristics/3")] == advice_on(compiled(specification))


def test_a_fault_of_the_grade_s_own_is_advised_on() -> None:
    """A slip in a name would split a fault in two, which nobody notices in the counts."""
    specification = look_grade(attributes(faults=["slub", "slubb", "frayed_end"]))

    assert [
        Flaw(
            "fault-not-in-vocabulary",
            ("`slubb` is not in the vocabulary of faults. Did you mean `slub`? If it is a fault of your own, keep it."),
            "/requirements/0/faults/1",
        ),
        Flaw(
            "fault-not-in-vocabulary",
            (
                "`frayed_end` is not in the vocabulary of faults. `GET /v1/faults` lists it. "
                "If it is a fault of your own, keep it."
            ),
            "/requirements/0/faults/2",
        ),
    ] == [advice for advice in advice_on(compiled(specification)) if advice.code == "fault-not-in-vocabulary"]


def test_a_rate_on_any_length_is_advised_on() -> None:
    """No knot on the first metre would pass a lot."""
    rate = {"kind": "rate", "faults": ["knot"], "per": {"value": 1000, "unit": "m"}, "at_most": 2}
    text = "The grade sets no least amount to inspect, so any length or mass is enough to pass a lot. Add `at_least_looked_at`."
    enough = {**rate, "at_least_looked_at": {"value": 500, "unit": "m"}}

    assert Flaw("no-sample", text, "/requirements/0") in advice_on(compiled(look_grade(rate)))
    assert "no-sample" not in [advice.code for advice in advice_on(compiled(look_grade(enough)))]
