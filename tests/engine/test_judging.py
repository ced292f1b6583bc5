"""The outcome of a lot: findings and their order, and what moves it."""

import msgspec
import pytest

from service.engine.documents import Evidence, Outcome
from service.engine.judging import judge
from tests.support.grades import (
    DIRECTION,
    FORCE,
    Document,
    declared,
    each,
    grade,
    lot,
    mean,
    series,
    spread,
)
from tests.support.judging import compiled, judged

PASSES, FAILS, WAITS = each(lower=1000), each(lower=2000), declared("Z", of="twist_direction")


@pytest.mark.parametrize(
    ("requirements", "outcome"),
    [
        ([PASSES], "pass"),
        ([PASSES, WAITS], "undecided"),
        ([WAITS, FAILS, PASSES], "fail"),
        ([PASSES, {**FAILS, "binding": False}], "pass"),
        ([PASSES, {**WAITS, "binding": False}], "pass"),
        ([WAITS, {**FAILS, "binding": False}], "undecided"),
    ],
)
def test_the_worst_binding_finding_is_the_outcome(requirements: list[Document], outcome: str) -> None:
    """A failed requirement is never balanced by passed ones, and what is not binding moves nothing."""
    verdict = judged(grade(*requirements, of=[FORCE, DIRECTION]), lot(series(1400)))

    assert outcome == verdict["outcome"]


def test_a_finding_that_is_not_binding_is_reported() -> None:
    """The mill wants to see the figure; the buyer does not ask for it."""
    verdict = judged(grade(PASSES, {**FAILS, "binding": False}), lot(series(1400)))

    assert [(True, "pass"), (False, "fail")] == [(each["binding"], each["outcome"]) for each in verdict["findings"]]


def test_a_verdict_says_what_it_was_judged_by() -> None:
    """It can be filed, printed and asked for again; what nobody named is left out."""
    verdict = judged(grade(PASSES), lot(series(1400)))

    assert ["engine", "evidence", "findings", "format", "lot", "outcome", "specification"] == sorted(verdict)
    assert (1, "1", "L-1") == (verdict["format"], verdict["engine"], verdict["lot"])


def test_a_lot_without_evidence_never_passes() -> None:
    """A missing reading never becomes a pass, whatever the kind."""
    requirements = [PASSES, mean(lower=1), spread("range", 1), declared("Z", of="twist_direction")]
    verdict = judged(grade(*requirements, of=[FORCE, DIRECTION]), lot())

    assert ["undecided"] * 4 == [each["outcome"] for each in verdict["findings"]]


def test_findings_stand_in_the_order_of_the_requirements() -> None:
    """A printed verdict is laid beside the grade."""
    verdict = judged(grade({**PASSES, "id": "b"}, {**PASSES, "id": "a"}), lot(series(1400)))

    assert ["b", "a"] == [each["requirement"] for each in verdict["findings"]]


def test_a_grade_is_compiled_with_the_digest_of_its_document() -> None:
    """Order of members is no part of a document."""
    document = grade(PASSES)
    turned = dict(reversed(document.items()))

    assert compiled(turned).digest == compiled(document).digest


def test_a_numeral_too_small_for_a_double_is_zero() -> None:
    """A machine that writes 1e-400 means nothing at all; it is judged as 0, and the evidence is that of a 0."""
    strength = compiled(grade(each(lower=0)))
    text = '{"lot": {"id": "L-1"}, "series": [{"characteristic": "breaking_force", "unit": "N", "values": [%s]}]}'
    small, zero = (judge(strength, msgspec.json.decode(text % numeral, type=Evidence)) for numeral in ("-1e-400", "0"))

    assert (Outcome.PASS, zero) == (small.outcome, small)
