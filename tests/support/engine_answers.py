"""What the engine answers to documents as they are sent."""

from collections.abc import Mapping
from typing import Any

from msgspec import convert, to_builtins

from service.engine.checking import judge_reading
from service.engine.documents import Check, CheckAnswer, Evidence, Verdict
from service.engine.grade import Specification, compile_specification
from service.engine.judging import judge

Document = Mapping[str, Any]


def verdict_on(specification: Document, evidence: Document) -> Verdict:
    """The verdict on a lot. Raises FlawedDocumentError where either document has flaws."""
    return judge(compile_specification(convert(specification, Specification)), convert(evidence, Evidence))


def answer_to(specification: Document, check: Document) -> CheckAnswer:
    """The answer to one reading. Raises FlawedDocumentError where either document has flaws."""
    return judge_reading(compile_specification(convert(specification, Specification)), convert(check, Check))


def finding_on(specification: Document, evidence: Document) -> Document:
    """The finding of the first requirement, as sent."""
    finding: Document = to_builtins(verdict_on(specification, evidence).findings[0])
    return finding
