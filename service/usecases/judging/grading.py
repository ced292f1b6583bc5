"""Grading: the evidence on a lot judged by all grades of an article that are in force, or by listed grades."""

import asyncio
from collections.abc import AsyncIterator, Sequence
from contextlib import suppress
from typing import Annotated

from msgspec import UNSET, Meta, Struct, UnsetType
from msgspec.structs import replace

from service.engine.documents import Code, Evidence, Flaw, FlawedDocumentError, Text, Verdict, did_you_mean, quoted
from service.engine.grading import Gradings, NotJudged, in_order
from service.engine.judging import PreparedEvidence, judge_prepared, prepared_evidence
from service.ports.catalogue import Catalogue
from service.usecases.grades import CachedGrade, GradeCache
from service.usecases.threads import by_grade

MOST_GRADES = 100
"""Maximum number of grades in a list."""
MOST_OF_ARTICLE = 500
"""Maximum number of grades of an article; beyond it the caller has to list grades."""
MOST_FLAWS = 100
"""Maximum number of flaws reported for a grade that the evidence does not fit."""
MOST_ARTICLES_LOOKED_AT = 1000
CODES_AT_ONCE = 100
"""Number of codes read from the catalogue at a time."""


class LotToGrade(Struct, frozen=True, forbid_unknown_fields=True):
    """The evidence on a lot, and the grades to judge it by: all of an article, or listed ones."""

    evidence: Evidence
    article: Text | UnsetType = UNSET
    grades: Annotated[list[Code], Meta(min_length=1, max_length=MOST_GRADES)] | UnsetType = UNSET


async def graded(catalogue: Catalogue, grade_cache: GradeCache, request: LotToGrade) -> Gradings:
    """Judge a lot by each of the grades, and return the gradings with the best one first.

    A grade that the evidence does not fit is listed in `not_judged`. Raises FlawedDocumentError with pointers into the
    request, also where no grade can judge and all find the same flaws.
    """
    if (request.article is UNSET) == (request.grades is UNSET):
        text = "The lot needs an `article` or a list of `grades`, and not both. Give one of the two."
        raise FlawedDocumentError([Flaw("article-or-grades", text, "")])
    lot, verdicts, refused = prepared_evidence(request.evidence), list[Verdict](), list[NotJudged]()
    async for held in _held(catalogue, grade_cache, request):
        found = await by_grade(held.compiled, _judged, held, lot)
        if isinstance(found, Verdict):
            verdicts.append(found)
        else:
            refused.append(found)
        # Between two grades other requests get their turn: many grades on many readings take long on the event loop.
        await asyncio.sleep(0)
    if not verdicts and (common := _common_flaws(refused)):
        raise FlawedDocumentError(common)
    return Gradings(
        lot=request.evidence.lot.id,
        evidence=lot.digest,
        gradings=in_order(verdicts),
        not_judged=refused or UNSET,
    )


async def _held(catalogue: Catalogue, grade_cache: GradeCache, request: LotToGrade) -> AsyncIterator[CachedGrade]:
    """Yield the revisions to judge by.

    Raises FlawedDocumentError if a listed grade can't judge, or no grade of the article.
    """
    if not isinstance(request.grades, UnsetType):
        for held in await _of_list(grade_cache, request.grades):
            yield held
        return
    # One at a time, so that no more compiled grades are in memory than the cache may hold.
    article, is_any = str(request.article), False
    for code in await _codes_of(catalogue, article):
        if found := await _of_article(grade_cache, code, article):
            is_any = True
            yield found
    if not is_any:
        text = f"No grade of {quoted(article)} is in force now. Release one, or list the `grades` to judge by."
        raise FlawedDocumentError([Flaw("none-in-force", text, "/article")])


async def _of_article(grade_cache: GradeCache, code: str, article: str) -> CachedGrade | None:
    """Return the grade's revision in force if it is of this article, or None."""
    # Its final revisions of this article may be older, withdrawn or not yet in force.
    with suppress(FlawedDocumentError):
        held = grade_cache.held(code) or await grade_cache.fetch(code)
        return held if held.compiled.article == article else None
    return None


async def _of_list(grade_cache: GradeCache, grades: Sequence[str]) -> list[CachedGrade]:
    """Return the revision in force of each grade. Raises FlawedDocumentError with all that can't judge or are listed twice."""
    found, flaws, first = list[CachedGrade](), list[Flaw](), dict[str, int]()
    for number, code in enumerate(grades):
        if first.setdefault(code, number) < number:
            text = f"{code} is already at /grades/{first[code]}. Remove one of the two."
            flaws.append(Flaw("grade-twice", text, f"/grades/{number}"))
            continue
        try:
            found.append(grade_cache.held(code) or await grade_cache.fetch(code))
        except FlawedDocumentError as error:
            flaws.extend(replace(flaw, at=f"/grades/{number}") for flaw in error.flaws)
    if flaws:
        raise FlawedDocumentError(flaws)
    return found


async def _codes_of(catalogue: Catalogue, article: str) -> list[str]:
    """Return grades with any final revision of the article. Raises FlawedDocumentError for none or too many."""
    codes: list[str] = []
    while page := await catalogue.grades_of_article(article, codes[-1] if codes else "", CODES_AT_ONCE):
        codes.extend(page)
        if len(codes) > MOST_OF_ARTICLE:
            text = f"{quoted(article)} has more than {MOST_OF_ARTICLE} grades. List the `grades` to judge by."
            raise FlawedDocumentError([Flaw("too-many-grades", text, "/article")])
    if not codes:
        known = await catalogue.articles(MOST_ARTICLES_LOOKED_AT)
        remedy = did_you_mean(article, known) or " Give the `article` as the specification of a grade has it."
        text = f"No released grade has the article {quoted(article)}.{remedy}"
        raise FlawedDocumentError([Flaw("unknown-article", text, "/article")])
    return codes


def _judged(held: CachedGrade, lot: PreparedEvidence) -> Verdict | NotJudged:
    """Return the verdict by one revision, or the flaws of the evidence by it."""
    try:
        return judge_prepared(held.compiled, lot, held.grade, held.number)
    except FlawedDocumentError as error:
        flaws = [flaw.below("/evidence") for flaw in error.flaws[:MOST_FLAWS]]
        more = len(error.flaws) - len(flaws)
        return NotJudged(held.grade, held.number, flaws, more or UNSET)


def _common_flaws(refused: Sequence[NotJudged]) -> list[Flaw]:
    """Return the flaws that all grades find; a flaw points to a rule only if all grades have it at the same place."""
    by_place = [{(flaw.code, flaw.at): flaw for flaw in each.flaws} for each in refused]
    common = (key for key in by_place[0] if all(key in each for each in by_place)) if by_place else ()
    return [_of_all([each[key] for each in by_place]) for key in common]


def _of_all(alike: Sequence[Flaw]) -> Flaw:
    """Merge equal flaws of all grades into one."""
    one = alike[0]
    return one if all(flaw.rule == one.rule for flaw in alike) else replace(one, rule="")
