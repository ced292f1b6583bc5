"""What to draw, as it is asked and answered over HTTP."""

import httpx

from tests.support import examples
from tests.support.problems import problem_of


async def test_what_to_draw_is_answered_by_grade(released: httpx.AsyncClient) -> None:
    """The samples of 3 packages for runnage and for force are one pull of 3."""
    answer = await released.post("/v1/draws", json=examples.TO_DRAW)
    document = answer.json()

    assert (200, examples.GRADE, 1, 3) == (answer.status_code, document["grade"], document["revision"], document["packages"])
    assert {"size": 480} == document["lot"]


async def test_flaws_of_shape_and_of_meaning_are_told_together(released: httpx.AsyncClient) -> None:
    """One look at the answer mends all of the request."""
    body = {"against": {"grade": "TB-13"}, "lot": {"size": "1200", "length": {"value": 3, "unit": "kg"}}}
    problem = problem_of(await released.post("/v1/draws", json=body), 422)

    assert [
        ("unknown-grade", "/against/grade"),
        ("wrong-type", "/lot/size"),
        ("unit-of-other-quantity", "/lot/length/unit"),
    ] == [(flaw["code"], flaw["at"]) for flaw in problem["flaws"]]
