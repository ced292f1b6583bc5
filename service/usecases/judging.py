"""Judging a reading or a lot: by a revision that is held in memory, or by a specification that comes along."""

from collections.abc import Iterator

from msgspec import UNSET, Struct, UnsetType

from service.engine.compilation import CompiledGrade, compile_specification
from service.engine.evidence import Check, Evidence
from service.engine.flaws import Flaw, FlawedDocumentError
from service.engine.judging import judge, judge_reading
from service.engine.specification import Specification
from service.engine.texts import Code, RevisionNumber
from service.engine.verdict import CheckAnswer, Verdict
from service.usecases.shelf import Held, Shelf


class Against(Struct, frozen=True, forbid_unknown_fields=True):
    """What a lot is judged against: a grade, by the revision in force or by the one named, or a specification as it stands."""

    grade: Code | UnsetType = UNSET
    revision: RevisionNumber | UnsetType = UNSET
    specification: Specification | UnsetType = UNSET


class LotToJudge(Struct, frozen=True, forbid_unknown_fields=True):
    """The evidence on a lot, and what it is judged against."""

    against: Against
    evidence: Evidence


async def of_reading(shelf: Shelf, check: Check) -> CheckAnswer:
    """What one reading comes to. Raises FlawedDocumentError with pointers into the check."""
    revision = check.revision or None
    held = shelf.held(check.grade, revision) or await shelf.fetch(check.grade, revision)
    return judge_reading(held.compiled, check, held.number)


async def of_lot(shelf: Shelf, request: LotToJudge) -> Verdict:
    """The verdict on a lot; nothing is stored. Raises FlawedDocumentError with pointers into the request."""
    against = request.against
    if flaws := list(_against_flaws(against)):
        raise FlawedDocumentError(flaws)
    if isinstance(against.specification, Specification):
        return _judged(_compiled(against.specification), request.evidence, UNSET, UNSET)
    held = await _held(shelf, str(against.grade), against.revision or None)
    return _judged(held.compiled, request.evidence, str(against.grade), held.number)


def _against_flaws(against: Against) -> Iterator[Flaw]:
    """A grade or a specification, one of the two."""
    if against.specification is UNSET:
        if against.grade is UNSET:
            text = "It is not said what to judge against. Name a `grade`, or give a `specification`."
            yield Flaw("grade-or-specification", text, "/against")
    elif against.grade is not UNSET:
        text = "A `grade` and a `specification` are given. Leave one of them out."
        yield Flaw("grade-or-specification", text, "/against")
    elif against.revision is not UNSET:
        text = "A `specification` has no revision. Leave `revision` out, or name a `grade`."
        yield Flaw("revision-of-specification", text, "/against/revision")


async def _held(shelf: Shelf, grade: str, revision: int | None) -> Held:
    try:
        return shelf.held(grade, revision) or await shelf.fetch(grade, revision)
    except FlawedDocumentError as error:
        raise _below("/against", error) from error


def _compiled(specification: Specification) -> CompiledGrade:
    try:
        return compile_specification(specification)
    except FlawedDocumentError as error:
        raise _below("/against/specification", error) from error


def _judged(grade: CompiledGrade, evidence: Evidence, code: str | UnsetType, revision: int | UnsetType) -> Verdict:
    try:
        return judge(grade, evidence, code, revision)
    except FlawedDocumentError as error:
        raise _below("/evidence", error) from error


def _below(prefix: str, error: FlawedDocumentError) -> FlawedDocumentError:
    """The same flaws in a document that stands at `prefix` of the request."""
    return FlawedDocumentError([flaw.below(prefix) for flaw in error.flaws])
