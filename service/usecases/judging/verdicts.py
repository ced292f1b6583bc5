"""Checks of readings and verdicts on lots, by a cached revision or by a specification in the request."""

from collections.abc import Sequence

from msgspec import Struct, UnsetType

from service.engine.checking import judge_reading
from service.engine.documents import Check, CheckAnswer, Evidence, Flaw, FlawedDocumentError, Series, Verdict
from service.engine.judging import judge
from service.engine.lot import own_flaws, reading_flaws
from service.usecases.grades import GradeCache
from service.usecases.judging.against import Against, below, named
from service.usecases.threads import by_grade

OF_EVIDENCE = "/evidence/series"
"""JSON Pointer to the series of evidence in a request for a verdict, a grading or a claim."""


class LotToJudge(Struct, frozen=True, forbid_unknown_fields=True):
    """The evidence on a lot, and what to judge it against."""

    against: Against
    evidence: Evidence


async def of_reading(grade_cache: GradeCache, check: Check) -> CheckAnswer:
    """Judge one reading. Raises FlawedDocumentError with pointers into the check."""
    revision = check.revision or None
    try:
        held = grade_cache.held(check.grade, revision) or await grade_cache.fetch(check.grade, revision)
    except FlawedDocumentError as error:
        # Together with what is wrong with the reading whatever the grade, so that a caller gets all flaws at once.
        raise FlawedDocumentError([*error.flaws, *reading_flaws(check.value, check.unit, None, "/value")]) from error
    return judge_reading(held.compiled, check, held.number)


async def of_lot(grade_cache: GradeCache, request: LotToJudge) -> Verdict:
    """Judge a lot; nothing is stored. Raises FlawedDocumentError with pointers into the request."""
    try:
        against = await named(grade_cache, request.against)
    except FlawedDocumentError as error:
        raise FlawedDocumentError([*error.flaws, *(flaw.below("/evidence") for flaw in own_flaws(request.evidence))]) from error
    try:
        return await by_grade(against.compiled, judge, against.compiled, request.evidence, against.grade, against.revision)
    except FlawedDocumentError as error:
        raise below("/evidence", error) from error


def check_readings(series: Sequence[Series] | UnsetType, most: int, at: str = OF_EVIDENCE) -> None:
    """Raise FlawedDocumentError if there are more than `most` readings; `at` is their pointer in the request."""
    readings = sum(len(each.values) for each in series or ())
    if readings > most:
        # A lot collects batches; a verdict on evidence needs all of it at once.
        way = "Leave out series that no requirement needs" if at == OF_EVIDENCE else "Send them in several batches"
        remedy = f"{way}, or have MARKERYARN_MOST_READINGS raised."
        text = f"The request has {readings} readings, and at most {most} are taken at a time. {remedy}"
        raise FlawedDocumentError([Flaw("too-many-readings", text, at)])
