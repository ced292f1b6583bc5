"""Verdicts judged again: what agrees, and where one that was altered does not."""

import json
from collections.abc import Callable

import msgspec
import pytest

from service.engine import ENGINE
from service.engine.documents import Evidence
from service.engine.ledger import Replay, judge_to_store, replay
from tests.support.grades import FORCE, Document, each, fixed, grade, lot, mean, series
from tests.support.judging import compiled

GRADE = compiled(grade(mean(lower=1400), each(lower=1200), of=[FORCE]))
EVIDENCE = json.dumps(lot(series(1410, 1390.5, 1205, packages=["b1", "b2", "b3"]), size=480)).encode()
GUARDED: Document = {"rule": "guarded_acceptance", "uncertainty": {"expanded": 20, "coverage_factor": 2}}
KEPT = judge_to_store(GRADE, "TB-1", 2, msgspec.json.decode(EVIDENCE, type=Evidence)).document


def replayed(verdict: Document | bytes, evidence: bytes = EVIDENCE) -> Replay:
    """What comes of it, if this is what is kept."""
    return replay(GRADE, "TB-1", 2, evidence, verdict if isinstance(verdict, bytes) else json.dumps(verdict).encode())


def altered(change: Callable[[Document], object]) -> Document:
    """The verdict, as somebody has changed it."""
    document: Document = json.loads(KEPT)
    change(document)
    return document


def test_what_was_not_altered_agrees() -> None:
    """And the verdict of now is the one that is kept, to the byte."""
    found = replayed(KEPT)

    assert found.agrees
    assert (KEPT, (ENGINE, ENGINE)) == (found.verdict, found.engine)


@pytest.mark.parametrize(
    ("change", "at"),
    [
        (lambda verdict: verdict.update(outcome="pass"), ["/outcome"]),
        (lambda verdict: verdict["findings"][0].update(outcome="pass"), ["/findings/0/outcome"]),
        (lambda verdict: verdict["findings"][0]["measured"].update(value=1400), ["/findings/0/measured/value"]),
        (lambda verdict: verdict["findings"][0].update(margin=1e-9), ["/findings/0/margin"]),
        (lambda verdict: verdict["findings"][0]["limits"].update(lower=1335), ["/findings/0/limits/lower"]),
        (lambda verdict: verdict["findings"][0].update(binding=False), ["/findings/0/binding"]),
        (lambda verdict: verdict["findings"][0]["reasons"][0].update(code="within"), ["/findings/0/reasons/0/code"]),
        (lambda verdict: verdict["findings"][0]["reasons"][0]["with"].update(by=1), ["/findings/0/reasons/0/with/by"]),
        (lambda verdict: verdict["findings"][0]["reasons"][0].update(rule="/x"), ["/findings/0/reasons/0/rule"]),
        (lambda verdict: verdict["findings"][1]["reasons"][0].update(at=["/series/9"]), ["/findings/1/reasons/0/at/0"]),
        (lambda verdict: verdict["findings"].pop(), ["/findings"]),
        (lambda verdict: verdict.update(specification="sha256:0", evidence="sha256:1"), ["/evidence", "/specification"]),
        (lambda verdict: verdict.pop("lot"), ["/lot"]),
        (lambda verdict: verdict.update(note="passed by hand"), ["/note"]),
    ],
)
def test_what_was_altered_is_named(change: Callable[[Document], object], at: list[str]) -> None:
    """The buyer who doubts a verdict sees where it does not follow from what was measured."""
    found = replayed(altered(change))

    assert not found.agrees
    assert at == [each.at for each in found.differences]


def test_another_wording_agrees() -> None:
    """A sentence is mended by a later release, and the verdict is as good as before."""
    verdict = altered(lambda verdict: [each["reasons"][0].update(text="Too weak.") for each in verdict["findings"]])

    assert replayed(verdict).agrees


def test_rules_of_another_number_agree_where_they_come_to_the_same() -> None:
    """Both numbers are told beside it."""
    found = replayed(altered(lambda verdict: verdict.update(engine="0")))

    assert found.agrees
    assert ("0", ENGINE) == found.engine


def test_readings_that_were_altered_are_found_by_their_digest() -> None:
    """Also where the outcome is the same."""
    found = replayed(KEPT, EVIDENCE.replace(b"1390.5", b"1390.75"))

    assert "/evidence" in [each.at for each in found.differences]
    assert "/findings/0/measured/value" in [each.at for each in found.differences]


@pytest.mark.parametrize(
    ("evidence", "code", "at"),
    [
        (EVIDENCE.replace(b'"N"', b'"kg"'), "unit-of-other-quantity", "/evidence/series/0/unit"),
        (b'{"lot":{"id":1}}', "kept-not-readable", "/evidence"),
        (b"", "kept-not-readable", "/evidence"),
    ],
)
def test_evidence_that_can_not_be_judged_any_more_is_said_to_be_so(evidence: bytes, code: str, at: str) -> None:
    """There is nothing to compare then, and nobody is told that it agrees."""
    found = replayed(KEPT, evidence)

    assert not found.agrees
    assert [(code, at)] == [(flaw.code, flaw.at) for flaw in found.flaws]
    assert ((), b"") == (found.differences, found.verdict)


@pytest.mark.parametrize("kept", [b"", b"passed", b"[]"])
def test_what_is_no_verdict_does_not_agree(kept: bytes) -> None:
    """The one of now is shown all the same."""
    found = replayed(kept)

    assert [""] == [each.at for each in found.differences]
    assert (KEPT, msgspec.UNSET) == (found.verdict, found.engine.then)


SHORT = compiled(grade({**each(lower=100), "decision": GUARDED}, of=[{**FORCE, "sample": fixed(5)}]))
"""Asks for five packages; a reading between its guarded limits leaves it open."""
TWO = json.dumps(lot(series(110, 200))).encode()


@pytest.mark.parametrize(
    ("missing", "at"),
    [
        (None, []),
        ([{"characteristic": "breaking_force", "packages": 3, "readings": 3}], []),
        ([{"characteristic": "breaking_force", "packages": 2, "readings": 2}], ["/findings/0/missing/0/packages"]),
        ([{"characteristic": "runnage", "packages": 3, "readings": 3}], ["/findings/0/missing/0/characteristic"]),
    ],
)
def test_a_verdict_that_lacks_only_what_is_missing_agrees(missing: list[Document] | None, at: list[str]) -> None:
    """Such were recorded; one that lists something else was altered."""
    verdict = json.loads(judge_to_store(SHORT, "TB-1", 2, msgspec.json.decode(TWO, type=Evidence)).document)
    told = verdict["findings"][0].pop("missing")
    if missing is not None:
        verdict["findings"][0]["missing"] = missing
    found = replay(SHORT, "TB-1", 2, TWO, json.dumps(verdict).encode())

    assert [{"characteristic": "breaking_force", "packages": 3, "readings": 3}] == told
    assert at == [each.at for each in found.differences][: len(at)]
    assert found.agrees == (not at)
