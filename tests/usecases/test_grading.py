"""One lot by all grades of an article, or by a list of them."""

from datetime import timedelta

import msgspec
import pytest

from service.engine.documents import FlawedDocumentError
from service.engine.grade import Specification
from service.engine.grading import Gradings
from service.storage.catalogue import DatabaseCatalogue
from service.usecases.grades import GradeCache
from service.usecases.grades import catalogue as use
from service.usecases.judging import LotToGrade, graded, grading

TWINE = "baler twine"
FORCE, RUNNAGE = {"name": "breaking_force", "unit": "N"}, {"name": "runnage", "unit": "m/kg"}
EVIDENCE = {
    "lot": {"id": "0412-07"},
    "series": [{"characteristic": "breaking_force", "unit": "N", "values": [1400, 1500]}],
}


async def add(catalogue: DatabaseCatalogue, grade_cache: GradeCache, grade: str, lower: int, **members: object) -> None:
    """A grade of baler twine with this least mean force, released; `members` change or add to its specification.

    days  from so many days ahead
    """
    days = members.pop("days", 0)
    requirement = {"id": "strength", "kind": "mean", "of": "breaking_force", "limits": {"lower": lower}}
    document = {"article": TWINE, "characteristics": [FORCE], "requirements": [requirement], **members}
    draft, _ = await use.add_draft(catalogue, grade, msgspec.convert(document, Specification))
    start = (await catalogue.current_state()).now + timedelta(days=days) if isinstance(days, int) and days else None
    await use.release(catalogue, grade_cache, grade, draft.number, effective_from=start, expected=None)


def asked(**members: object) -> LotToGrade:
    """The request as it is sent."""
    return msgspec.convert({"evidence": EVIDENCE, **members}, LotToGrade)


def shown(found: Gradings) -> list[tuple[object, object, str]]:
    """(grade, revision, outcome) in the order of the answer."""
    return [(each.grade, each.revision, str(each.outcome)) for each in found.gradings]


async def flaws_of(catalogue: DatabaseCatalogue, grade_cache: GradeCache, request: LotToGrade) -> list[tuple[str, str]]:
    """(code, pointer) of each flaw."""
    with pytest.raises(FlawedDocumentError) as raised:
        await graded(catalogue, grade_cache, request)
    return [(flaw.code, flaw.at) for flaw in raised.value.flaws]


async def test_a_lot_is_judged_by_every_grade_of_its_article(catalogue: DatabaseCatalogue) -> None:
    """1450 N fail the strong grade and pass two others; the weak one is kept with most to spare. A rope is no twine."""
    grade_cache = GradeCache(catalogue)
    for code, lower in (("TB-150", 1600), ("TB-130", 1400), ("TB-110", 1000)):
        await add(catalogue, grade_cache, code, lower)
    await add(catalogue, grade_cache, "MR-16", 1000, article="rope")
    found = await graded(catalogue, grade_cache, asked(article=TWINE))

    assert [("TB-110", 1, "pass"), ("TB-130", 1, "pass"), ("TB-150", 1, "fail")] == shown(found)
    assert ("0412-07", msgspec.UNSET) == (found.lot, found.not_judged)
    assert {found.evidence} == {each.verdict.evidence for each in found.gradings}


async def test_only_what_is_in_force_of_the_article_judges(catalogue: DatabaseCatalogue) -> None:
    """Neither a draft, nor what is to come, nor what is withdrawn, nor what was of the article once."""
    grade_cache = GradeCache(catalogue)
    await add(catalogue, grade_cache, "TB-130", 1400)
    await add(catalogue, grade_cache, "TB-130", 1300)
    await add(catalogue, grade_cache, "TB-140", 1400, days=1)
    await add(catalogue, grade_cache, "TB-150", 1400)
    await use.withdraw(catalogue, grade_cache, "TB-150", 1, "Too weak.")
    await add(catalogue, grade_cache, "TB-160", 1400)
    await add(catalogue, grade_cache, "TB-160", 1400, article="rope")
    await use.add_draft(
        catalogue,
        "TB-170",
        msgspec.convert(
            {
                "characteristics": [FORCE],
                "requirements": [{"id": "strength", "kind": "mean", "of": "breaking_force", "limits": {"lower": 1}}],
                "article": TWINE,
            },
            Specification,
        ),
    )

    assert [("TB-130", 2, "pass")] == shown(await graded(catalogue, grade_cache, asked(article=TWINE)))


async def test_an_article_is_found_whatever_its_letters(catalogue: DatabaseCatalogue) -> None:
    """Quotation marks, a backslash and letters of other scripts are kept and found as they are."""
    article = 'Bindegarn "süß" \\ 縄 😀'
    grade_cache = GradeCache(catalogue)
    await add(catalogue, grade_cache, "TB-130", 1400, article=article)

    assert [("TB-130", 1, "pass")] == shown(await graded(catalogue, grade_cache, asked(article=article)))


async def test_grades_of_a_list_judge_whatever_their_article(catalogue: DatabaseCatalogue) -> None:
    """A clerk who hesitates between a twine and a rope asks for both."""
    grade_cache = GradeCache(catalogue)
    await add(catalogue, grade_cache, "TB-130", 1400)
    await add(catalogue, grade_cache, "MR-16", 1500, article="rope")
    await add(catalogue, grade_cache, "XX-1", 1000)

    assert [("TB-130", 1, "pass"), ("MR-16", 1, "fail")] == shown(
        await graded(catalogue, grade_cache, asked(grades=["MR-16", "TB-130"]))
    )


async def test_a_grade_that_the_evidence_does_not_fit_stands_apart(catalogue: DatabaseCatalogue) -> None:
    """A rope is judged by its mass per length; that the lot has no force for it keeps nobody from selling it as twine."""
    grade_cache = GradeCache(catalogue)
    await add(catalogue, grade_cache, "TB-130", 1400)
    mass = {"id": "mass", "kind": "mean", "of": "runnage", "limits": {"lower": 100}}
    await add(catalogue, grade_cache, "TB-900", 0, characteristics=[RUNNAGE], requirements=[mass])
    found = await graded(catalogue, grade_cache, asked(article=TWINE))

    assert [("TB-130", 1, "pass")] == shown(found)
    assert found.not_judged
    [refused] = found.not_judged
    assert ("TB-900", 1, msgspec.UNSET) == (refused.grade, refused.revision, refused.more_flaws)
    assert [("unknown-characteristic", "/evidence/series/0/characteristic")] == [(f.code, f.at) for f in refused.flaws]


async def test_evidence_that_no_grade_can_judge_for_one_reason_is_refused(catalogue: DatabaseCatalogue) -> None:
    """Pounds for a force are a mistake by any grade; what only one of them finds waits until that is mended."""
    grade_cache = GradeCache(catalogue)
    await add(catalogue, grade_cache, "TB-130", 1400)
    await add(catalogue, grade_cache, "TB-140", 1400, characteristics=[FORCE, RUNNAGE])
    series = [
        {"characteristic": "breaking_force", "unit": "lb", "values": [320]},
        {"characteristic": "runnage", "unit": "m/kg", "values": [130]},
    ]
    request = asked(article=TWINE, evidence={**EVIDENCE, "series": series})

    assert [("unit-of-other-quantity", "/evidence/series/0/unit")] == await flaws_of(catalogue, grade_cache, request)


@pytest.mark.parametrize(("second", "rule"), [([FORCE, RUNNAGE], "/characteristics/0/unit"), ([RUNNAGE, FORCE], "")])
async def test_a_common_flaw_points_to_a_rule_only_where_all_grades_have_it_at_one_place(
    catalogue: DatabaseCatalogue, second: list[dict[str, str]], rule: str
) -> None:
    """A pointer into one of the grades would lead astray in the others."""
    grade_cache = GradeCache(catalogue)
    await add(catalogue, grade_cache, "TB-130", 1400)
    await add(catalogue, grade_cache, "TB-140", 1400, characteristics=second)
    series = [{"characteristic": "breaking_force", "unit": "lb", "values": [320]}]
    with pytest.raises(FlawedDocumentError) as raised:
        await graded(catalogue, grade_cache, asked(article=TWINE, evidence={**EVIDENCE, "series": series}))

    assert [rule] == [flaw.rule for flaw in raised.value.flaws]


async def test_evidence_that_each_grade_refuses_for_its_own_reason_is_told_by_grade(catalogue: DatabaseCatalogue) -> None:
    """There is nothing to judge by, and each grade says why."""
    grade_cache = GradeCache(catalogue)
    await add(catalogue, grade_cache, "TB-130", 1400)
    mass = {"id": "mass", "kind": "mean", "of": "runnage", "limits": {"lower": 100}}
    await add(catalogue, grade_cache, "TB-900", 0, characteristics=[RUNNAGE], requirements=[mass])
    series = [*EVIDENCE["series"], {"characteristic": "runnage", "unit": "m/kg", "values": [130]}]
    found = await graded(catalogue, grade_cache, asked(article=TWINE, evidence={**EVIDENCE, "series": series}))

    assert [] == found.gradings
    assert found.not_judged
    assert [("TB-130", "/evidence/series/1/characteristic"), ("TB-900", "/evidence/series/0/characteristic")] == [
        (each.grade, each.flaws[0].at) for each in found.not_judged
    ]


async def test_an_article_of_no_grade_is_a_flaw_and_the_near_one_is_told(catalogue: DatabaseCatalogue) -> None:
    """An empty list would look like a lot that nobody takes."""
    grade_cache = GradeCache(catalogue)
    await add(catalogue, grade_cache, "TB-130", 1400)
    with pytest.raises(FlawedDocumentError) as raised:
        await graded(catalogue, grade_cache, asked(article="bailer twine"))
    [flaw] = raised.value.flaws

    assert ("unknown-article", "/article") == (flaw.code, flaw.at)
    assert "No released grade has the article `bailer twine`. Did you mean `baler twine`?" == flaw.text


async def test_an_article_of_which_nothing_is_in_force_is_a_flaw(catalogue: DatabaseCatalogue) -> None:
    """Its grade is withdrawn, or comes next year."""
    grade_cache = GradeCache(catalogue)
    await add(catalogue, grade_cache, "TB-130", 1400, days=1)

    assert [("none-in-force", "/article")] == await flaws_of(catalogue, grade_cache, asked(article=TWINE))


async def test_all_grades_of_a_list_that_can_not_judge_are_told(catalogue: DatabaseCatalogue) -> None:
    """Each at its place in the list."""
    grade_cache = GradeCache(catalogue)
    await add(catalogue, grade_cache, "TB-130", 1400)
    await add(catalogue, grade_cache, "TB-140", 1400, days=1)

    assert [("unknown-grade", "/grades/0"), ("none-in-force", "/grades/2")] == await flaws_of(
        catalogue, grade_cache, asked(grades=["TB-13", "TB-130", "TB-140"])
    )


@pytest.mark.parametrize(
    ("members", "flaws"),
    [
        ({}, [("article-or-grades", "")]),
        ({"article": TWINE, "grades": ["TB-130"]}, [("article-or-grades", "")]),
        ({"grades": ["TB-1", "TB-1"]}, [("unknown-grade", "/grades/0"), ("grade-twice", "/grades/1")]),
    ],
)
async def test_what_to_judge_by_is_said_in_one_way(
    catalogue: DatabaseCatalogue, members: dict[str, object], flaws: list[tuple[str, str]]
) -> None:
    """An article or a list, and no grade twice."""
    assert flaws == await flaws_of(catalogue, GradeCache(catalogue), asked(**members))


async def test_an_article_of_too_many_grades_is_a_flaw(catalogue: DatabaseCatalogue, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nobody reads a thousand verdicts, and stations wait while they are made; pages of the catalogue are gone through."""
    monkeypatch.setattr(grading, "MOST_OF_ARTICLE", 3)
    monkeypatch.setattr(grading, "CODES_AT_ONCE", 2)
    grade_cache = GradeCache(catalogue)
    for number in range(3):
        await add(catalogue, grade_cache, f"TB-{number}", 1400)
    three = await graded(catalogue, grade_cache, asked(article=TWINE))
    await add(catalogue, grade_cache, "TB-3", 1400)

    assert ["TB-0", "TB-1", "TB-2"] == [each.grade for each in three.gradings]
    assert [("too-many-grades", "/article")] == await flaws_of(catalogue, grade_cache, asked(article=TWINE))


async def test_grading_keeps_no_more_in_memory_than_a_replica_may(catalogue: DatabaseCatalogue) -> None:
    """An article of many grades does not drive the others out for good, nor fill the memory."""
    grade_cache = GradeCache(catalogue, most_requirements=2)
    for number in range(4):
        await add(catalogue, grade_cache, f"TB-{number}", 1400)
    found = await graded(catalogue, grade_cache, asked(article=TWINE))

    assert 4 == len(found.gradings)
    assert [False, False, True, True] == [grade_cache.held(f"TB-{number}") is not None for number in range(4)]
