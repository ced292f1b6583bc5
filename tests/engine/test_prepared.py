"""Answers that stand ready: the same bytes as the ordinary way gives, whatever the reading."""

import random

import msgspec
import pytest

from service.engine.checking import judge_reading
from service.engine.evidence import Check
from service.engine.flaws import FlawedDocumentError
from service.engine.prepared import Passed, answer_to
from tests.support.grades import ELONGATION, FORCE, RUNNAGE, TWIST, Document, each, grade, mean
from tests.support.judging import compiled

NOMINAL = {"nominal": 130, "minus": 5, "plus": 5, "tolerance": "percent"}
OF_FORCE = {"of": "breaking_force"}
GRADES: dict[str, Document] = {
    "one side": grade(each(lower=1120)),
    "the other side": grade(each(upper=1120.125)),
    "two sides": grade(each(lower=36, upper=42), of=TWIST),
    "an edge that is shared": grade(each(lower=36, upper=36), of=TWIST),
    "worked out from a nominal": grade(each(limits=NOMINAL), mean(limits=NOMINAL), of=RUNNAGE),
    "some may be outside": grade(each(lower=1120, allowed_outside={"count": 1}, outer={"lower": 980})),
    "several, and means": grade(
        each(lower=1120), each(lower=980, upper=1800, binding=False), mean(lower=1400), each(lower=1260, over="packages")
    ),
    "in per cent": grade(each(lower=3, upper=7.5, clause="4 %", note="50 % of it"), of=ELONGATION),
    "fine limits": grade(each(lower=0.0003, upper=1234567.891), of=FORCE),
    "rounded": grade(each(lower=36, upper=42, rounding={"step": 1, "ties": "even"}), of=TWIST),
    "excluded": grade(each(limits={"above": 1120, "below": 1300})),
    "nothing binds": grade(each(lower=1120, binding=False), mean(lower=1400)),
}
UNITS = {"breaking_force": ("N", "lbf", "kN"), "twist": ("turn/m", "turn/ft"), "runnage": ("m/kg", "ktex", "ft/lb")}


def both(document: Document, unit: str, value: float, code: str = "TB-130") -> tuple[bytes, bytes, bool]:
    """The answer by the ordinary way and by the ready one, and whether it stood ready."""
    rules, name = compiled(document), document["characteristics"][0]["name"]
    check = Check(grade=code, characteristic=name, unit=unit, value=value)
    ordinary = msgspec.json.encode(judge_reading(rules, check, 3))
    answer_to(rules, check, 3)
    ready = answer_to(rules, check, 3)
    return (
        ordinary,
        ready.document if isinstance(ready, Passed) else msgspec.json.encode(ready),
        isinstance(ready, Passed),
    )


@pytest.mark.parametrize("name", GRADES)
def test_both_ways_give_the_same_bytes(name: str) -> None:
    """A station must not see two texts, and no program two figures, by which way an answer came about."""
    chance, document = random.Random(name), GRADES[name]
    rules, of = compiled(document), document["characteristics"][0]["name"]
    edges = [1120, 1120.125, 36, 42, 123.5, 136.5, 130, 39, 3, 7.5, 0.0003, 1234567.891, 980, 1800, 1390, 1300]
    near = [edge + step for edge in edges for step in (0, 0.001, -0.001, 0.04, 0.05, -0.05, 0.06, 0.0001, 1e-9)]
    ranges = [(low, high, places) for low, high in ((0, 60), (900, 2000), (100, 160)) for places in (0, 1, 3, 6)]
    drawn = [round(chance.uniform(low, high), places) for low, high, places in ranges for _ in range(60)]
    for unit in UNITS.get(of, (document["characteristics"][0]["unit"],)):
        for value in (*near, *drawn, 1e12, 999999999999.999, 1e-9, 0.001):
            if value <= 0:
                continue
            check = Check(grade="TB-130", characteristic=of, unit=unit, value=value)
            ordinary, ready = judge_reading(rules, check, 3), answer_to(rules, check, 3)
            written = ready.document if isinstance(ready, Passed) else msgspec.json.encode(ready)

            assert (ordinary.outcome, msgspec.json.encode(ordinary)) == (ready.outcome, written), value


@pytest.mark.parametrize(
    ("name", "unit", "value", "is_ready"),
    [
        ("one side", "N", 1432.5, True),
        ("one side", "N", 1120, False),
        ("one side", "N", 1119.999, False),
        ("one side", "N", 1432.50001, False),
        ("one side", "lbf", 331.5, True),
        ("two sides", "turn/m", 37, True),
        ("two sides", "turn/m", 41, True),
        ("worked out from a nominal", "ft/lb", 193.5, True),
        ("worked out from a nominal", "ktex", 7.72, False),
        ("in per cent", "%", 5, True),
        ("rounded", "turn/m", 39, False),
        ("nothing binds", "N", 1500, False),
    ],
)
def test_what_is_plainly_in_stands_ready(name: str, unit: str, value: float, is_ready: bool) -> None:  # noqa: FBT001  a parameter
    """The path that a station waits on is taken where it can be, and nowhere else."""
    ordinary, ready, stood_ready = both(GRADES[name], unit, value)

    assert (is_ready, ordinary) == (stood_ready, ready)


def test_each_code_and_revision_has_its_own() -> None:
    """Two grades may be sold by the same specification, and each answer names its own."""
    rules = compiled(GRADES["one side"])
    codes = [("TB-130", 1), ("TB-130", 2), ("SB-130", 1)]
    asked = [(Check(grade=code, characteristic="breaking_force", unit="N", value=1400), number) for code, number in codes * 2]
    answers = [answer_to(rules, check, number) for check, number in asked]
    told = [msgspec.json.decode(each.document) for each in answers if isinstance(each, Passed)]

    assert codes[1:] + codes == [(each["grade"], each["revision"]) for each in told][-5:]


def test_a_flawed_check_is_refused_as_before() -> None:
    """A unit that is none is no pass, however often it is sent."""
    rules = compiled(GRADES["one side"])
    answer_to(rules, Check(grade="TB-130", characteristic="breaking_force", unit="N", value=1400), 1)
    for _ in range(2):
        with pytest.raises(FlawedDocumentError):
            answer_to(rules, Check(grade="TB-130", characteristic="breaking_force", unit="lb", value=1400), 1)
