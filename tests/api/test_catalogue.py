"""Grades over HTTP: from a draft to what judges by it."""

import json
from typing import Any

import httpx
import pytest

from service import ports
from service.api.problems import KIND_BY_STATE_ERROR, KINDS
from tests.support import examples
from tests.support.problems import problem_of

REVISIONS = f"/v1/grades/{examples.GRADE}/revisions"


def subclasses(of: type[Exception]) -> set[type[Exception]]:
    """All below it."""
    return {each for direct in of.__subclasses__() for each in (direct, *subclasses(direct))}


def test_every_error_of_state_has_a_status() -> None:
    """One that is left out would be told to a caller as a fault of ours."""
    assert subclasses(ports.StateError) == set(KIND_BY_STATE_ERROR)
    assert set(KINDS) >= set(KIND_BY_STATE_ERROR.values())


async def test_a_draft_is_answered_with_where_it_is(client: httpx.AsyncClient) -> None:
    """And with the tag by which it can be released as read."""
    answer = await client.post(REVISIONS, json=examples.SPECIFICATION)

    assert (201, f"{REVISIONS}/1") == (answer.status_code, answer.headers["location"])
    assert f'"{answer.json()["specification"]}"' == answer.headers["etag"]
    assert {"grade", "revision", "state", "specification", "created_at"} == set(answer.json())


async def test_a_draft_can_be_posted_again_safely(client: httpx.AsyncClient) -> None:
    """The answer to the first may have been lost."""
    first = await client.post(REVISIONS, json=examples.SPECIFICATION)
    again = await client.post(REVISIONS, json=examples.SPECIFICATION)

    assert (200, first.json()) == (again.status_code, again.json())


async def test_a_flawed_specification_is_refused_whole(client: httpx.AsyncClient) -> None:
    """Nothing of it is kept, so the grade does not come to be."""
    problem = problem_of(await client.post(REVISIONS, json=examples.FLAWED), 422)

    assert ["/characteristics/0/unit", "/requirements/0/limits"] == [flaw["at"] for flaw in problem["flaws"]]
    problem_of(await client.get(f"/v1/grades/{examples.GRADE}"), 404)


async def test_a_draft_is_replaced_only_as_it_was_read(client: httpx.AsyncClient) -> None:
    """Two people who write at once would else undo each other's work unseen."""
    tag = (await client.post(REVISIONS, json=examples.SPECIFICATION)).headers["etag"]
    other = {**examples.SPECIFICATION, "title": "Another title"}
    path = f"{REVISIONS}/1/specification"

    problem_of(await client.put(path, json=other), 428)
    problem_of(await client.put(path, json=other, headers={"if-match": '"sha256:0"'}), 412)
    problem_of(await client.put(path, json=other, headers={"if-match": f"W/{tag}"}), 412)
    assert 200 == (await client.put(path, json=other, headers={"if-match": f'"x", {tag}'})).status_code
    assert 200 == (await client.put(path, json=other, headers={"if-match": "*"})).status_code
    problem_of(await client.post(f"{REVISIONS}/1/release", json={}, headers={"if-match": tag}), 412)


async def test_a_released_specification_is_cacheable_for_ever_and_never_changes(released: httpx.AsyncClient) -> None:
    """A station may keep it; its tag is its digest."""
    path = f"{REVISIONS}/1/specification"
    answer = await released.get(path)

    assert "immutable" in answer.headers["cache-control"]
    assert examples.SPECIFICATION == answer.json()
    assert 304 == (await released.get(path, headers={"if-none-match": answer.headers["etag"]})).status_code
    problem_of(await released.put(path, json=examples.SPECIFICATION, headers={"if-match": "*"}), 409)
    problem_of(await released.post(f"{REVISIONS}/1/release", json={}), 409)


async def test_a_check_right_after_a_release_is_judged_by_it(released: httpx.AsyncClient) -> None:
    """And right after a withdrawal no more, though the revision may still be named."""
    assert "pass" == (await released.post("/v1/checks", json=examples.CHECK)).json()["outcome"]
    assert 200 == (await released.post(f"{REVISIONS}/1/withdraw", json={"reason": examples.REASON})).status_code

    problem = problem_of(await released.post("/v1/checks", json=examples.CHECK), 422)
    assert [("/grade", "none-in-force")] == [(flaw["at"], flaw["code"]) for flaw in problem["flaws"]]
    named = await released.post("/v1/checks", json={**examples.CHECK, "revision": 1})
    assert (200, 1) == (named.status_code, named.json()["revision"])
    problem_of(await released.post(f"{REVISIONS}/1/withdraw", json={"reason": "again"}), 409)


@pytest.mark.parametrize("reason", ["", "two\nlines", 1, None, "x" * 2001])
async def test_a_withdrawal_needs_a_reason_that_can_be_printed(released: httpx.AsyncClient, reason: object) -> None:
    """Who answers the claim in two years reads it."""
    problem = problem_of(await released.post(f"{REVISIONS}/1/withdraw", json={"reason": reason}), 422)

    assert ["/reason"] == [flaw["at"] for flaw in problem["flaws"]]


@pytest.mark.parametrize(
    "moment",
    ["2020-01-01T00:00:00Z", "2030-01-01", "2030-01-01T00:00:00", "tomorrow", 1, None, "9999-12-31T23:59:59-23:59"],
)
async def test_a_release_from_no_coming_moment_is_a_flaw(client: httpx.AsyncClient, moment: object) -> None:
    """A grade must not have been in force before anybody could know."""
    await client.post(REVISIONS, json=examples.SPECIFICATION)
    problem = problem_of(await client.post(f"{REVISIONS}/1/release", json={"effective_from": moment}), 422)

    assert ["/effective_from"] == [flaw["at"] for flaw in problem["flaws"]]


async def test_lists_go_on_where_they_ended(client: httpx.AsyncClient) -> None:
    """Page by page nothing is missed and nothing comes twice."""
    for code in ("B-1", "B-2", "B-3"):
        await client.post(f"/v1/grades/{code}/revisions", json=examples.SPECIFICATION)
    first = (await client.get("/v1/grades?limit=2")).json()
    second = (await client.get(f"/v1/grades?limit=2&after={first['next']}")).json()

    assert ["B-1", "B-2"] == [each["grade"] for each in first["grades"]]
    assert {"grades": [{"grade": "B-3", "revisions": 1}]} == second


@pytest.mark.parametrize(
    ("members", "at", "code"),
    [
        ({"grade": "TB-13"}, "/grade", "unknown-grade"),
        ({"revision": 7}, "/revision", "unknown-revision"),
        ({"revision": 2}, "/revision", "revision-not-released"),
        ({"characteristic": "braking_force"}, "/characteristic", "unknown-characteristic"),
        ({"unit": "lb"}, "/unit", "unit-of-other-quantity"),
        ({"unit": "bushel"}, "/unit", "unknown-unit"),
        ({"value": 1e13}, "/value", "beyond-range"),
        ({"value": 1e-10}, "/value", "beyond-range"),
        ({"value": -1}, "/value", "negative"),
        ({"characteristic": "runnage", "unit": "tex", "value": 0}, "/value", "zero-turned-round"),
    ],
)
async def test_what_a_check_can_mean_wrongly_is_pointed_to(
    released: httpx.AsyncClient, members: dict[str, Any], at: str, code: str
) -> None:
    """The station shows the sentence; the operator knows what to do."""
    await released.post(REVISIONS, json={**examples.SPECIFICATION, "title": "A second draft"})
    problem = problem_of(await released.post("/v1/checks", json={**examples.CHECK, **members}), 422)

    assert [(at, code)] == [(flaw["at"], flaw["code"]) for flaw in problem["flaws"]]


@pytest.mark.parametrize(
    ("against", "flaws"),
    [
        ({}, [("/against", "grade-or-specification")]),
        ({"grade": "TB-130", "specification": examples.SPECIFICATION}, [("/against", "grade-or-specification")]),
        ({"revision": 1, "specification": examples.SPECIFICATION}, [("/against/revision", "revision-of-specification")]),
        ({"grade": "TB-13"}, [("/against/grade", "unknown-grade")]),
        ({"grade": "TB-130", "revision": 7}, [("/against/revision", "unknown-revision")]),
        (
            {"specification": examples.FLAWED},
            [
                ("/against/specification/characteristics/0/unit", "unit-of-other-quantity"),
                ("/against/specification/requirements/0/limits", "limits-upside-down"),
            ],
        ),
    ],
)
async def test_what_a_lot_is_judged_against_is_checked(
    released: httpx.AsyncClient, against: dict[str, Any], flaws: list[tuple[str, str]]
) -> None:
    """Each flaw at its own place in the request."""
    body = {"against": against, "evidence": examples.EVIDENCE}
    problem = problem_of(await released.post("/v1/verdicts", json=body), 422)

    assert flaws == [(flaw["at"], flaw["code"]) for flaw in problem["flaws"]]


async def test_flaws_of_the_evidence_stand_below_it(released: httpx.AsyncClient) -> None:
    """As the request has it there."""
    series = [{"characteristic": "breaking_force", "unit": "lb", "packages": ["b1"], "values": [331.5, 1e13]}]
    body = {"against": {"grade": "TB-130"}, "evidence": {"lot": {"id": "1"}, "series": series}}
    problem = problem_of(await released.post("/v1/verdicts", json=body), 422)

    places = {"/evidence/series/0/unit", "/evidence/series/0/packages", "/evidence/series/0/values/1"}
    assert places == {flaw["at"] for flaw in problem["flaws"]}


@pytest.mark.parametrize("document", [None, 1, "x", [], {}, {"requirements": None}, examples.FLAWED])
async def test_a_review_answers_any_json_with_its_flaws(client: httpx.AsyncClient, document: object) -> None:
    """Its writer sees all that is wrong, in an answer that is no refusal."""
    answer = await client.post("/v1/reviews", content=json.dumps(document), headers={"content-type": "application/json"})

    assert 200 == answer.status_code
    assert answer.json()["flaws"]


async def test_the_same_question_gets_the_same_bytes(released: httpx.AsyncClient) -> None:
    """A verdict can be asked for again, and compared."""
    answers = {(await released.post("/v1/verdicts", json=examples.BY_GRADE)).content for _ in range(3)}

    assert 1 == len(answers)
