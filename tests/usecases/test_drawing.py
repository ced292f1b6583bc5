"""Saying what to draw, by a grade of the catalogue or by a specification that comes along."""

import msgspec
import pytest

from service.engine.documents import FlawedDocumentError
from service.storage.catalogue import DatabaseCatalogue
from service.usecases.grades import GradeCache
from service.usecases.judging import DrawRequest, for_lot
from tests.support.grade_caches import release, strength

GRADE = "TB-130"


def request(against: object, lot: object) -> DrawRequest:
    """The request as it is sent."""
    return msgspec.convert({"against": against, "lot": lot}, DrawRequest)


async def flaws_of(grade_cache: GradeCache, asked: DrawRequest) -> list[tuple[str, str]]:
    """(code, pointer) of each flaw."""
    with pytest.raises(FlawedDocumentError) as raised:
        await for_lot(grade_cache, asked)
    return [(flaw.code, flaw.at) for flaw in raised.value.flaws]


async def test_the_revision_in_force_is_drawn_for_and_named(catalogue: DatabaseCatalogue) -> None:
    """Whoever draws in the morning sees by which revision."""
    grade_cache = GradeCache(catalogue)
    await release(catalogue, grade_cache, GRADE, 1400)
    await release(catalogue, grade_cache, GRADE, 1300, 1200)
    answer = await for_lot(grade_cache, request({"grade": GRADE}, {"size": 10}))
    pinned = await for_lot(grade_cache, request({"grade": GRADE, "revision": 1}, {"size": 10}))

    assert (GRADE, 2, 2) == (answer.grade, answer.revision, len(answer.draws))
    assert (GRADE, 1, 1) == (pinned.grade, pinned.revision, len(pinned.draws))


async def test_a_specification_that_comes_along_is_drawn_for(catalogue: DatabaseCatalogue) -> None:
    """Before a grade is released, its writer sees what it costs to test a lot."""
    specification = msgspec.to_builtins(strength(1400))
    answer = await for_lot(GradeCache(catalogue), request({"specification": specification}, {}))

    assert (msgspec.UNSET, 1) == (answer.grade, answer.packages)


async def test_flaws_of_the_grade_and_of_the_lot_are_told_together(catalogue: DatabaseCatalogue) -> None:
    """Both are mended at once."""
    lot = {"length": {"value": 22, "unit": "kg"}, "mass": {"value": 1e-12, "unit": "t"}}
    grade_cache = GradeCache(catalogue)

    assert [
        ("unknown-grade", "/against/grade"),
        ("unit-of-other-quantity", "/lot/length/unit"),
        ("beyond-range", "/lot/mass/value"),
    ] == await flaws_of(grade_cache, request({"grade": "TB-13"}, lot))


async def test_flaws_of_the_lot_alone_are_told(catalogue: DatabaseCatalogue) -> None:
    """A grade that is there makes a lot no better."""
    grade_cache = GradeCache(catalogue)
    await release(catalogue, grade_cache, GRADE, 1400)
    lot = {"length": {"value": 22, "unit": "fathom"}}

    assert [("unknown-unit", "/lot/length/unit")] == await flaws_of(grade_cache, request({"grade": GRADE}, lot))


async def test_a_grade_and_a_specification_are_not_both_drawn_for(catalogue: DatabaseCatalogue) -> None:
    """They could differ."""
    against = {"grade": GRADE, "specification": msgspec.to_builtins(strength(1400))}

    assert [("grade-or-specification", "/against")] == await flaws_of(GradeCache(catalogue), request(against, {}))
