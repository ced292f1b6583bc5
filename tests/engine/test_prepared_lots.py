"""Verdicts that stand ready: the same bytes as the ordinary way gives, whatever the lot."""

import random
from random import Random

import msgspec
import pytest
from msgspec import UNSET, UnsetType

from service.engine.compilation import CompiledGrade
from service.engine.evidence import Evidence
from service.engine.flaws import FlawedDocumentError
from service.engine.judging import judge
from service.engine.prepared import verdict_ahead
from tests.support.grades import FORCE, TWIST, Document
from tests.support.judging import compiled
from tests.support.lots import lot_at_the_edge
from tests.support.plain_grades import NOT_PLAIN, PLAIN, SPREAD


def lot_of(characteristic: str, unit: str, values: list[float], **more: object) -> Evidence:
    """A lot of one series."""
    series = {"characteristic": characteristic, "unit": unit, "values": values, **more}
    return msgspec.convert({"lot": {"id": "L-1", "size": 480}, "series": [series]}, Evidence)


def told(rules: CompiledGrade, evidence: Evidence) -> tuple[bytes, bytes | None]:
    """The verdict by the ordinary way, and the ready one."""
    ahead = verdict_ahead(rules, evidence, "TB-130", 3)
    verdict = judge(rules, evidence, "TB-130", 3)
    assert ahead is None or ahead.outcome == verdict.outcome
    return msgspec.json.encode(verdict), ahead and ahead.document


@pytest.mark.parametrize("name", PLAIN)
def test_both_ways_give_the_same_bytes(name: str) -> None:
    """An ERP must not see two texts, and no program two figures, by which way a verdict came about."""
    chance, document = random.Random(name), PLAIN[name]
    rules, of = compiled(document), document["characteristics"][0]
    middle, spreading, places = SPREAD[of["name"]]
    ready = 0
    for _ in range(400):
        count = chance.choice((1, 2, 3, 5, 8, 20, 63, 64, 70))
        wide = spreading * chance.choice((0.1, 1, 2))
        values = [abs(round(chance.gauss(middle, wide), chance.choice((0, places, places, 6)))) for _ in range(count)]
        ordinary, ahead = told(rules, lot_of(of["name"], of["unit"], values))
        ready += ahead is not None

        assert ahead in (None, ordinary), values
    assert ready > 20


@pytest.mark.parametrize(
    ("name", "values", "is_ready"),
    [
        ("as most", [1500.5, 1400, 1450], True),
        ("as most", [1400, 1400, 1400], True),
        ("as most", [1400, 1400, 1399.9], False),
        ("as most", [1500, 1119.9, 1800], False),
        ("as most", [1500], False),
        ("two sides", [1500, 1501], True),
        ("two sides", [1400, 1400], True),
        ("excluded", [1400, 1400.5], True),
        ("excluded", [1400, 1400], False),
        ("excluded", [1120, 1900], False),
        ("a sample", [1500.0] * 4, False),
        ("a sample", [1500.0] * 5, True),
        ("other spreads", [1000, 1400], False),
        ("other spreads", [1400, 1400], True),
        ("as most", [1500.0] * 64, False),
    ],
)
def test_what_plainly_passes_stands_ready(name: str, values: list[float], is_ready: bool) -> None:  # noqa: FBT001  a parameter
    """On a limit it passes as ever, and all that fails or lacks something is told the ordinary way."""
    ordinary, ahead = told(compiled(PLAIN[name]), lot_of("breaking_force", "N", values))

    assert (is_ready, ordinary if is_ready else None) == (ahead is not None, ahead)


@pytest.mark.parametrize("name", NOT_PLAIN)
def test_a_grade_that_asks_for_more_is_judged_the_ordinary_way(name: str) -> None:
    """A rule that takes no part must not be left out of a verdict."""
    document = NOT_PLAIN[name]
    values = [39.0] * 4 if document["characteristics"][0]["name"] == "twist" else [1500.0] * 4
    of = document["characteristics"][0]

    assert verdict_ahead(compiled(document), lot_of(of["name"], of["unit"], values), "TB-130", 3) is None


@pytest.mark.parametrize(
    "more",
    [
        {"packages": ["a", "a", "b"]},
        {"remarks": ["", "confirmed", ""]},
        {"stage": 2},
        {"uncertainty": {"expanded": 5, "coverage_factor": 2}},
        {"packages_per_specimen": 2},
    ],
)
def test_readings_that_say_more_are_judged_the_ordinary_way(more: Document) -> None:
    """What stands beside a value may change what it means."""
    rules = compiled(PLAIN["two sides"])

    assert verdict_ahead(rules, lot_of("breaking_force", "N", [1500, 1500, 1500], **more), "TB-130", 3) is None


def test_other_units_and_several_characteristics_stand_ready_too() -> None:
    """Each in the grade's unit, and each finding with the series that it rests on."""
    document = {
        "characteristics": [FORCE, TWIST],
        "requirements": [
            {"id": "m", "kind": "mean", "of": "breaking_force", "limits": {"lower": 1400}},
            {"id": "t", "kind": "each", "of": "twist", "limits": {"lower": 36, "upper": 42}},
        ],
    }
    series = [
        {"characteristic": "twist", "unit": "turn/m", "values": [39, 38.5]},
        {"characteristic": "breaking_force", "unit": "lbf", "values": [331.5, 340]},
    ]
    evidence = msgspec.convert({"lot": {"id": "L-1"}, "series": series}, Evidence)
    ordinary, ahead = told(compiled(document), evidence)

    assert ordinary == ahead
    reason = msgspec.json.decode(ahead)["findings"][0]["reasons"][0]
    assert ["/series/1"] == reason["at"]


def test_each_code_and_revision_has_its_own() -> None:
    """Two grades may be sold by the same specification, and each verdict names its own."""
    rules, evidence = compiled(PLAIN["two sides"]), lot_of("breaking_force", "N", [1500, 1500])
    named: list[tuple[str | UnsetType, int | UnsetType]] = [("TB-130", 1), ("TB-130", 2), ("SB-130", 1), (UNSET, UNSET)]

    for code, revision in named * 2:
        ahead = verdict_ahead(rules, evidence, code, revision)
        assert ahead
        assert msgspec.json.encode(judge(rules, evidence, code, revision)) == ahead.document


@pytest.mark.parametrize("batch", range(8))
def test_lots_at_the_edge_are_told_alike(batch: int) -> None:
    """Those by which the engine is compared with the simple judge, whatever their grades ask for."""
    for seed in range(batch, 4000, 8):
        lot = lot_at_the_edge(Random(seed))
        try:
            rules, evidence = compiled(lot.specification), msgspec.convert(lot.evidence, Evidence)
            ordinary = msgspec.json.encode(judge(rules, evidence))
        except FlawedDocumentError:
            continue
        ahead = verdict_ahead(rules, evidence, UNSET, UNSET)

        assert ahead is None or ordinary == ahead.document, seed
