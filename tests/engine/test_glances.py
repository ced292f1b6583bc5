"""A glance at readings shows what judging them comes to, or nothing."""

import random
from collections import Counter

import msgspec
import pytest

from service.engine.evidence import Evidence
from service.engine.ordinary import ordinary_lot
from service.engine.preparing import sent
from service.engine.requirements.measuring import MeasuredRule
from service.engine.requirements.shortage import Shortage
from tests.support.grades import FORCE, Document, each, fixed, grade, lot, mean, sampled, series, spread, variables
from tests.support.judging import compiled
from tests.support.plain_grades import NOT_PLAIN, PLAIN, SPREAD

SHORT: dict[str, Document] = {
    "of packages": grade(
        each(lower=1400, allowed_outside={"count": 1}, outer={"lower": 1300}),
        each(lower=1400, over="packages"),
        mean(lower=1400, over="packages"),
        spread(statistic="range", at_most=200),
        spread(statistic="range", at_most=200, over="packages"),
        spread(statistic="standard_deviation", at_most=60),
        variables(1.5, lower=1300),
        of=sampled(FORCE, 3, 2),
    ),
    "a share may be outside": grade(each(lower=1450, allowed_outside={"percent": 50}, sample=fixed(6))),
    "of every package": grade(each(lower=1400), mean(lower=1400), of={**FORCE, "sample": {"plan": "every"}}),
}
GRADES = PLAIN | NOT_PLAIN | SHORT
OFTEN_SEEN = {"as most": {"pass", "undecided"}, "other spreads": {"pass", "undecided"}, "of packages": {"pass", "undecided"}}


@pytest.mark.parametrize("name", GRADES)
def test_what_a_glance_shows_is_what_judging_comes_to(name: str) -> None:
    """A station must not be told that a requirement is met which the verdict then finds broken."""
    chance, document = random.Random(name), GRADES[name]
    rules, of = compiled(document), document["characteristics"][0]
    middle, spreading, places = SPREAD.get(of["name"], (40, 3, 0))
    seen = Counter[str]()
    for _ in range(300):
        wide = spreading * chance.choice((0.1, 1, 2))
        values = [
            abs(round(chance.gauss(middle, wide), places)) or 1 for _ in range(chance.choice((1, 2, 3, 4, 5, 6, 7, 9, 20)))
        ]
        if chance.random() < 0.1:
            values = [chance.choice((1120, 1400, 1600))] * len(values)
        packages = chance.choice(
            (None, [f"b{chance.randrange(4)}" for _ in values], [f"b{place // 2}" for place in range(len(values))])
        )
        evidence = msgspec.convert(lot(series(*values, of=of, packages=packages), size=480), Evidence)
        made = ordinary_lot(rules.characteristics, evidence, sent(evidence))
        assert made
        for rule in rules.requirements:
            assert isinstance(rule, MeasuredRule)
            glance = rule.glance(made.by_characteristic[of["name"]])
            if glance is not None:
                finding = rule.judge(made)
                lacking = [Shortage(each.packages, each.readings or 0) for each in finding.missing or ()]
                seen[glance.outcome] += 1

                assert finding.outcome == glance.outcome, (rule, values, packages)
                assert lacking == ([glance.lacking] if glance.lacking else [])
    assert set(seen) >= OFTEN_SEEN.get(name, set())
