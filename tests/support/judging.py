"""What the engine answers to documents as a caller would send them: decoded strictly, judged, encoded again.

Every verdict that passes through here is held to what every verdict promises: each reason points to a rule that stands
in the specification and to evidence that stands in the evidence, in the order of the document.
"""

import json
from functools import reduce

import msgspec

from service.engine.checking import judge_reading
from service.engine.documents import Check, Evidence, Flaw, FlawedDocumentError
from service.engine.grade import CompiledGrade, Specification, compile_specification
from service.engine.judging import judge
from tests.support.grades import Document

MOST_POINTERS = 20
REASONS = {
    "within",
    "below-lower",
    "above-upper",
    "outside-if-allowed",
    "allowance-used-up",
    "too-many-outside",
    "beyond-outer",
    "above-at-most",
    "declared-agrees",
    "declared-differs",
    "not-declared",
    "readings-missing",
    "lot-size-unknown",
    "lot-beyond-bands",
    "lot-smaller-than-plan",
    "plan-not-in-table",
    "no-such-plan",
    "no-partner",
    "mean-not-positive",
    "quality-below-k",
    "no-single-limit",
    "average-met",
    "average-short",
    "shorts-accepted",
    "too-many-short",
    "none-short-by-twice",
    "short-by-twice",
    "second-sample-needed",
    "nominal-beyond-rule",
    "composite-specimen",
    "limit-not-known",
    "between-guarded-limits",
    "uncertainty-missing",
    "implausible",
    "other-method",
    "calibration-overdue",
    "remark-without-rule",
    "date-missing",
    "retest-due",
    "no-more-than-accepted",
    "more-than-accepted",
    "accepted-in-gap",
    "packages-missing",
    "more-than-plan",
    "not-all-counted",
    "too-little-looked-at",
    "retest-allowed",
    "retested",
}
"""As the contract lists them."""


def compiled(specification: Document) -> CompiledGrade:
    """The specification, ready to judge by."""
    return compile_specification(msgspec.json.decode(json.dumps(specification), type=Specification))


def judged(specification: Document, evidence: Document) -> Document:
    """The verdict document."""
    found = judge(compiled(specification), msgspec.json.decode(json.dumps(evidence), type=Evidence))
    verdict: Document = json.loads(msgspec.json.encode(found))
    for finding in verdict["findings"]:
        assert_reasons_resolve(finding["reasons"], specification, evidence)
        assert_margin_agrees(finding)
    return verdict


def found(specification: Document, *columns: Document, size: int | None = None) -> Document:
    """The finding of the first requirement on a lot with these series."""
    evidence: Document = {"lot": {"id": "L-1"} if size is None else {"id": "L-1", "size": size}, "series": list(columns)}
    finding: Document = judged(specification, evidence)["findings"][0]
    return finding


def checked(specification: Document, value: float, of: str = "breaking_force", unit: str = "N") -> Document:
    """The answer to a check of one reading."""
    check: Document = {"grade": "TB-130", "characteristic": of, "unit": unit, "value": value}
    answer = judge_reading(compiled(specification), msgspec.json.decode(json.dumps(check), type=Check))
    document: Document = json.loads(msgspec.json.encode(answer))
    for finding in document["findings"]:
        assert_reasons_resolve(finding["reasons"], specification, check)
        assert_margin_agrees(finding)
    assert_reasons_resolve(document.get("reasons", []), specification, check)
    return document


def flaws_of(specification: Document) -> list[Flaw]:
    """Every flaw of a specification; none where it compiles."""
    try:
        compiled(specification)
    except FlawedDocumentError as refusal:
        return list(refusal.flaws)
    return []


def flaws_in(specification: Document, evidence: Document) -> list[Flaw]:
    """Every flaw of evidence against a specification that has none; each pointer and rule resolves."""
    try:
        judge(compiled(specification), msgspec.json.decode(json.dumps(evidence), type=Evidence))
    except FlawedDocumentError as refusal:
        for flaw in refusal.flaws:
            resolve(evidence, flaw.at)
            resolve(specification, flaw.rule)
        return list(refusal.flaws)
    return []


def flaws_of_check(specification: Document, value: float, of: str, unit: str) -> list[Flaw]:
    """Every flaw of a check; each pointer and rule resolves."""
    check: Document = {"grade": "TB-130", "characteristic": of, "unit": unit, "value": value}
    try:
        judge_reading(compiled(specification), msgspec.json.decode(json.dumps(check), type=Check))
    except FlawedDocumentError as refusal:
        for flaw in refusal.flaws:
            resolve(check, flaw.at)
            resolve(specification, flaw.rule)
        return list(refusal.flaws)
    return []


def resolve(document: object, pointer: str) -> object:
    """What stands at this JSON Pointer. Raises LookupError where nothing does.

    Source: RFC 6901, sections 3 to 5.
    """
    return reduce(_member, pointer.split("/")[1:], document)


def _member(value: object, token: str) -> object:
    if isinstance(value, list):
        return value[int(token)]
    if isinstance(value, dict):
        return value[token.replace("~1", "/").replace("~0", "~")]
    raise LookupError(token)


def assert_reasons_resolve(reasons: list[Document], specification: Document, evidence: Document) -> None:
    """The code is known; rule and places stand in the documents, the places at most 20, in the document's order, each once."""
    for reason in reasons:
        assert reason["code"] in REASONS
        resolve(specification, reason["rule"])
        places = [_as_numbers(pointer) for pointer in reason["at"]]
        for pointer in reason["at"]:
            resolve(evidence, pointer)
        assert places == sorted(set(places))
        assert len(places) == min(MOST_POINTERS, reason["at_total"])


def _as_numbers(pointer: str) -> tuple[tuple[int, str], ...]:
    """A pointer in a form that sorts as the document is read: by numbers where it counts."""
    return tuple((int(token), "") if token.isdigit() else (-1, token) for token in pointer.split("/"))


def assert_margin_agrees(finding: Document) -> None:
    """A decided finding passes exactly if its margin is not negative; an undecided one has none and lists reasons."""
    assert finding["reasons"]
    if finding["outcome"] == "undecided":
        assert "margin" not in finding
        is_between = finding["reasons"][0]["code"] == "between-guarded-limits"
        assert "measured" not in finding or finding["measured"]["statistic"] in ("reading", "age") or is_between
    elif "margin" in finding:
        # A limit that excludes its own value fails a value on it, which lies 0 beside it.
        on_excluding = finding["margin"] == 0 and {"above", "below"} & set(finding["limits"])
        assert on_excluding or (finding["outcome"] == "pass") == (finding["margin"] >= 0)
