"""Sampling plans, as they are asked for and answered over HTTP."""

import httpx

from tests.support import examples
from tests.support.problems import problem_of


async def test_a_plan_and_its_risks_are_answered(client: httpx.AsyncClient) -> None:
    """MIL-STD-105E Table III-A (reference A6): J at 2.5."""
    answer = await client.post("/v1/sampling-plans", json=examples.PLAN_BY_ATTRIBUTES)
    document = answer.json()

    assert (200, "J", 4) == (answer.status_code, document["letter"], len(document["curve"]))
    assert [{"packages": 50, "accept": 2, "reject": 5}, {"packages": 50, "accept": 6, "reject": 7}] == document["stages"]


async def test_that_there_is_no_plan_is_said_where_it_can_be_mended(client: httpx.AsyncClient) -> None:
    """A level goes by the lot's size."""
    body = {"sample": examples.PLAN_BY_ATTRIBUTES["sample"], "lot": {"inspection": "normal"}}
    problem = problem_of(await client.post("/v1/sampling-plans", json=body), 422)

    assert [("lot-size-unknown", "/lot/size")] == [(flaw["code"], flaw["at"]) for flaw in problem["flaws"]]
    assert "Give `size` in `lot`." in problem["flaws"][0]["text"]


async def test_flaws_of_shape_and_of_meaning_are_told_together(client: httpx.AsyncClient) -> None:
    """One look at the answer mends all of the request."""
    body = {
        "sample": {"plan": "fixed", "packages": 80},
        "at_most": 2,
        "k": 1,
        "lot": {"size": "1200"},
        "qualities": [1, 101, -1],
    }
    problem = problem_of(await client.post("/v1/sampling-plans", json=body), 422)

    assert {
        ("not-of-this-basis", "/k"),
        ("wrong-type", "/lot/size"),
        ("quality-above-all", "/qualities/1"),
        ("below-least", "/qualities/2"),
    } == {(flaw["code"], flaw["at"]) for flaw in problem["flaws"]}
