"""The engine and a slow judge, written from the law texts alone, come to the same on thousands of lots."""

from collections import Counter
from fractions import Fraction
from random import Random

import pytest

from tests.support.grades import Document, grade, lot, series
from tests.support.judging import judged
from tests.support.simple_contents import PLANS, outcome_of, tolerable

MASS: Document = {"name": "net_mass", "unit": "g"}
EDGES = (1, 19, 20, 60, 99, 100, 500, 501, 3200, 3201, 10_000)
NOMINALS = (5, 40, 50, 75, 150, 160, 250, 400, 750, 1000, 1001, 5000, 10_000)


def a_content(rng: Random, nominal: int, allowed: Fraction) -> float:
    """About the nominal, now and then on an edge or beside it."""
    if rng.random() < 0.06:
        edge = nominal - rng.choice((1, 1, 1, 2)) * allowed
        return float(edge + rng.choice((0, 0, 1, -1)) * Fraction(1, 1000))
    return round(nominal + rng.choice((0.05, 0.3)) * float(allowed) * rng.choice((-1, 0, 1, 1)), 3)


def a_count(rng: Random, table: str, size: int) -> int:
    """Mostly a whole sample, or more, or one less."""
    if size < 100:
        return max(1, size - rng.choice((0, 0, 0, 1)))
    wanted = next(row[1] for row in PLANS[table] if size <= row[0])
    return wanted + rng.choice((0, 0, 5, -1))


@pytest.mark.parametrize("seed", range(8))
def test_the_slow_judge_agrees(seed: int) -> None:
    """A table read off wrongly twice in the same way is less likely than once."""
    rng, seen = Random(seed), Counter[str]()
    for _ in range(60):
        rule, table = rng.choice(("eu-76-211", "uk-2006-659")), rng.choice((*PLANS, "double", "double"))
        size, nominal = rng.choice([size for size in EDGES if table != "destructive" or size >= 100]), rng.choice(NOMINALS)
        allowed = tolerable(Fraction(nominal))
        first = [a_content(rng, nominal, allowed) for _ in range(a_count(rng, table, size))]
        second = [a_content(rng, nominal, allowed) for _ in range(rng.choice((29, 30, 50, 80)))]
        how = {"destructive": True} if table == "destructive" else {"scheme": table}
        specification = grade({"kind": "net_content", "rule": rule, "nominal": nominal, **how}, of=MASS)
        alone = judged(specification, lot(series(*first, of=MASS), size=size))["outcome"]
        contents = [Fraction(str(each)) for each in first]

        assert outcome_of(rule, table, Fraction(nominal), size, contents, []) == alone
        seen[alone] += 1
        if (
            table == "double"
            and size >= 100
            and alone == "undecided"
            and len(first) >= next(row[1] for row in PLANS[table] if size <= row[0])
        ):
            columns = series(*first, of=MASS), {**series(*second, of=MASS), "stage": 2}
            both = judged(specification, lot(*columns, size=size))["outcome"]

            assert outcome_of(rule, table, Fraction(nominal), size, contents, [Fraction(str(each)) for each in second]) == both
            seen[f"second {both}"] += 1

    assert {"pass", "fail", "undecided"} <= seen.keys()
