"""Gradings as they are asked and answered over HTTP."""

import httpx

from tests.support import examples
from tests.support.problems import problem_of

ARTICLE = "baler twine"


async def test_a_lot_that_fails_one_grade_is_sold_as_another(client: httpx.AsyncClient) -> None:
    """The example's twine has 1404.3 N on average: one grade of the article asks for 1400 N, the other for 1500 N.

    (331.5 + 340 + 318.25 + 322 + 247.5 + 335) / 6 = 315.7083 lbf of 4.4482216152605 N are 1404.3 N.
    """
    strength = examples.SPECIFICATION["requirements"][1]
    for grade, lower in (("TB-150", 1500), ("TB-140", 1400)):
        revisions = f"/v1/grades/{grade}/revisions"
        requirements = [{**strength, "limits": {"lower": lower}}]
        await client.post(revisions, json={**examples.SPECIFICATION, "article": ARTICLE, "requirements": requirements})
        await client.post(f"{revisions}/1/release", json={})
    answer = await client.post("/v1/gradings", json={"article": ARTICLE, "evidence": examples.EVIDENCE})
    gradings = answer.json()["gradings"]

    assert 200 == answer.status_code
    assert [("TB-140", "pass"), ("TB-150", "fail")] == [(each["grade"], each["outcome"]) for each in gradings]
    assert [True, False] == [each["least_margin"]["relative"] >= 0 for each in gradings]


async def test_a_verdict_in_a_grading_is_that_of_the_lot_by_that_grade(released: httpx.AsyncClient) -> None:
    """Whoever looks at one grade alone finds the same."""
    [grading] = (await released.post("/v1/gradings", json=examples.BY_LIST)).json()["gradings"]

    assert (await released.post("/v1/verdicts", json=examples.BY_GRADE)).json() == grading["verdict"]


async def test_flaws_of_shape_and_of_meaning_are_told_together(released: httpx.AsyncClient) -> None:
    """One look at the answer mends all of the request."""
    declared = [{"characteristic": 7, "value": "Z"}]
    body = {"evidence": {**examples.EVIDENCE, "declared": declared}, "grades": ["TB-130", "TB-13", "TB-130"]}
    problem = problem_of(await released.post("/v1/gradings", json=body), 422)

    assert [
        ("wrong-type", "/evidence/declared/0/characteristic"),
        ("unknown-grade", "/grades/1"),
        ("grade-twice", "/grades/2"),
    ] == [(flaw["code"], flaw["at"]) for flaw in problem["flaws"]]
