"""A check that names the lot: its own revision judges, and what is outside in it already counts."""

from collections.abc import Iterator
from itertools import islice, repeat
from pathlib import Path

import pytest

from tests.support.grades import each, grade
from tests.support.services import Answered, Service, ask, released, two_services
from tests.support.within import Within, service_within

GRADE, LOT = "TB-130", "0412-07"
ONE_MAY = grade({"id": "weak", **each(lower=1120, allowed_outside={"count": 1})})
READING = {"characteristic": "breaking_force", "unit": "N"}
READ = b'{"lot":"0412-07","characteristic":"breaking_force","unit":"N"'
ENOUGH = 5000
"""So often another server is asked before it is said that it never learns."""


@pytest.fixture
def service(database_url: str) -> Iterator[Within]:
    """A service within this process, where the lot is open."""
    with service_within(database_url) as made:
        opened(made)
        yield made


def opened(service: Service) -> None:
    """The lot, of a grade in which one reading may be below 1120 N."""
    released(service, GRADE, ONE_MAY)
    assert 201 == ask(service, "PUT", f"/v1/lots/{LOT}", {"grade": GRADE}).status


def record(service: Service, batch: str, *values: float) -> None:
    """Breaking forces in newtons."""
    body = {"batch": batch, "series": [{**READING, "values": list(values)}]}
    assert 201 == ask(service, "POST", f"/v1/lots/{LOT}/readings", body).status


def checked(service: Service, value: float, **members: object) -> Answered:
    """A breaking force of the lot."""
    return ask(service, "POST", "/v1/checks", {"lot": LOT, **READING, "value": value, **members})


def flaws(answer: Answered) -> list[tuple[str, str]]:
    """(code, pointer) of each flaw of a refusal."""
    assert 422 == answer.status, answer.body
    return [(flaw["code"], flaw["at"]) for flaw in answer.document["flaws"]]


def test_what_is_outside_in_the_lot_already_counts(service: Service) -> None:
    """The first weak place shows amber at the station, the second red; nothing is recorded by asking."""
    before = checked(service, 1100)
    record(service, "A", 1119, 1300)
    after, good = checked(service, 1100), checked(service, 1120)
    struck = {"id": "S", "of": "A", "at": ["/series/0/values/0"], "reason": "The specimen slipped."}
    assert 201 == ask(service, "POST", f"/v1/lots/{LOT}/strikes", struck).status
    again = checked(service, 1100)

    assert ["undecided", "fail", "pass", "undecided"] == [each.document["outcome"] for each in (before, after, good, again)]
    assert "allowance-used-up" == after.document["findings"][0]["reasons"][0]["code"]
    assert (LOT, GRADE, 1) == tuple(after.document[name] for name in ("lot", "grade", "revision"))
    assert 3 == ask(service, "GET", f"/v1/lots/{LOT}").document["changes"]


def test_the_lots_own_revision_judges(service: Service) -> None:
    """A stricter one that is released meanwhile is not the lot's, until it is moved there."""
    newer = released(service, GRADE, grade({"id": "weak", **each(lower=1200)}))
    by_grade = ask(service, "POST", "/v1/checks", {"grade": GRADE, **READING, "value": 1150}).document
    before = checked(service, 1150).document
    moved = {"id": "M", "revision": newer, "reason": "Agreed with the buyer."}
    assert 201 == ask(service, "POST", f"/v1/lots/{LOT}/revision", moved).status
    after = checked(service, 1150).document

    assert [(2, "fail"), (1, "pass"), (2, "fail")] == [
        (each["revision"], each["outcome"]) for each in (by_grade, before, after)
    ]
    assert "lot" not in by_grade


def test_a_lot_and_a_grade_are_one_too_many(service: Service) -> None:
    """Which of the two was meant, only the caller knows."""
    both = checked(service, 1150, grade=GRADE, revision=1)

    assert [("grade-or-lot", "/grade"), ("grade-or-lot", "/revision")] == flaws(both)
    assert (
        "A `lot` is judged by its own grade and revision, and a `grade` is given. Remove the `grade` or the `lot`."
        == (both.document["flaws"][0]["text"])
    )


def test_a_lot_that_is_not_there_is_a_flaw_of_the_check(service: Service) -> None:
    """As with a grade: the path is there, what the body names is not."""
    answer = checked(service, 1150, lot="0412-70")

    assert [("unknown-lot", "/lot")] == flaws(answer)
    assert (
        "There is no lot `0412-70`. `PUT /v1/lots/0412-70` opens it; `GET /v1/lots` lists the lots."
        == (answer.document["detail"])
    )


@pytest.mark.parametrize(
    ("body", "status", "found"),
    [
        (READ + b',"value":1150,"value":1}', 400, [("duplicate-key", "/value")]),
        (b'{"lot"', 400, [("not-json", "")]),
        (
            b'{"lot":"0412-07","characteristic":"breaking_force","unit":"kg","value":-1}',
            422,
            [("unit-of-other-quantity", "/unit"), ("negative", "/value")],
        ),
        (
            b'{"lot":7,"characteristic":"breaking_force","unit":"N","value":"1150"}',
            422,
            [("wrong-type", "/lot"), ("wrong-type", "/value")],
        ),
        (READ + b',"value":1150,"lots":"x"}', 422, [("unknown-field", "/lots")]),
        (b'{"characteristic":"breaking_force","unit":"N","value":1150}', 422, [("missing-field", "/grade")]),
        (
            b'{"grade":"TB-130","method":"lot","characteristic":"breaking_force","unit":"N","valu":1}',
            422,
            [("unknown-field", "/valu"), ("missing-field", "/value")],
        ),
        (b'["lot"]', 422, [("wrong-type", "")]),
    ],
)
def test_a_check_of_a_lot_is_read_as_strictly_as_any(
    service: Service, body: bytes, status: int, found: list[tuple[str, str]]
) -> None:
    """A slip at a station is told by its place, and never taken for something."""
    answer = ask(service, "POST", "/v1/checks", body)

    assert (status, found) == (answer.status, [(flaw["code"], flaw["at"]) for flaw in answer.document["flaws"]])


def test_names_of_members_may_be_written_with_escapes(service: Service) -> None:
    """JSON is JSON, however a library writes it; a text that says `lot` names none."""
    escaped = rb'{"l\u006ft":"0412-07","characteristic":"breaking_force","unit":"N","value":1150}'
    method = b'{"grade":"TB-130","characteristic":"breaking_force","unit":"N","value":1150,"method":"lot"}'
    answers = [ask(service, "POST", "/v1/checks", body).document for body in (escaped, method)]

    assert [LOT, None] == [each.get("lot") for each in answers]
    assert ["pass", "pass"] == [each["outcome"] for each in answers]


def test_another_server_learns_of_what_was_recorded(database_url: str, tmp_path: Path) -> None:
    """The operator's station asks one of them, and the tester's readings reach the other."""
    with two_services(database_url, tmp_path) as (one, other):
        opened(one)
        before = checked(one, 1100).document["outcome"]
        record(other, "A", 1119)
        at_once = checked(other, 1100).document["outcome"]
        learnt = "fail" in (checked(one, 1100).document["outcome"] for _ in islice(repeat(None), ENOUGH))

    assert ("undecided", "fail", True) == (before, at_once, learnt)
