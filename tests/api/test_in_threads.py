"""What takes long to work out is worked out beside the checks, not before them."""

import json
from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack
from typing import Any

import pytest

from tests.api.test_busy import ready
from tests.faults.invented import CHECK, GRADE
from tests.faults.talking import Heard, line_to, request
from tests.support.commands import SPECIFICATION
from tests.support.services import ask, released, service_in

LONG = 4
"""Requests that each need a search of their own; a machine of today takes half a second for one."""
LEAST_CHECKS = 3 * LONG
MIB = 1024 * 1024
MANY_BYTES = 7 * MIB
"""All of them together have room beside each other."""
BEFORE_VALUES = (
    b'{"against": {"grade": "TB-130"}, "evidence": {"series": [{"characteristic": "runnage", "unit": "m/kg", "values": ['
)


def hard_plan(number: int) -> Mapping[str, Any]:
    """A plan whose two qualities are so near to each other that it takes thousands of packages; each number's is another."""
    producer, consumer = {"percent": 10 + number / 100, "risk": 0.1}, {"percent": 10.7 + number / 100, "risk": 0.1}
    return {"plan": "two_point", "law": "binomial", "producer": producer, "consumer": consumer}


def hard_grade(number: int) -> Mapping[str, Any]:
    """A grade whose bales are looked over by such a plan."""
    looked_over = {"id": "faults", "kind": "attributes", "class": "major", "sample": hard_plan(number)}
    return {"title": "Invented figures", "characteristics": [], "requirements": [looked_over]}


def sampling_plan(number: int) -> bytes:
    """A question for the plan itself."""
    return request("POST", "/v1/sampling-plans", json.dumps({"sample": hard_plan(number)}).encode())


def review(number: int) -> bytes:
    """A grade to look over."""
    return request("POST", "/v1/reviews", json.dumps(hard_grade(10 + number)).encode())


def draft(number: int) -> bytes:
    """A grade to keep."""
    return request("POST", f"/v1/grades/G-{number}/revisions", json.dumps(hard_grade(20 + number)).encode())


def verdict(number: int) -> bytes:
    """A lot by a grade that comes along: a search by the size of a lot is over too soon to count checks beside it."""
    counts = [{"class": "major", "inspected": 100, "nonconforming": 0}]
    evidence = {"lot": {"id": "L-1", "size": 90_000 + number}, "counts": counts}
    asked = {"against": {"specification": hard_grade(40 + number)}, "evidence": evidence}
    return request("POST", "/v1/verdicts", json.dumps(asked).encode())


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """A service with a grade to check by."""
    with service_in(tmp_path_factory.mktemp("service")) as made:
        released(made, GRADE, SPECIFICATION)
        yield made


def heard_beside_checks(address: str, asked: Callable[[int], bytes]) -> tuple[list[Heard], int]:
    """The answers to some long requests that are sent together, and how many checks were answered until the last came."""
    with ExitStack() as stack, line_to(address) as checking:
        lines = [stack.enter_context(line_to(address)) for _ in range(LONG)]
        contents = [asked(number) for number in range(LONG)]
        # Long bodies take a while to arrive; the work begins with the last byte.
        for line, content in zip(lines, contents, strict=True):
            line.socket.sendall(content[:-1])
        for line, content in zip(lines, contents, strict=True):
            line.socket.sendall(content[-1:])
        checks = 0
        while not all(ready(line) for line in lines):
            assert 200 == checking.ask(CHECK).status
            checks += 1

        heard = [line.hear() for line in lines]
    return heard, checks


@pytest.mark.parametrize("asked", [sampling_plan, review, draft, verdict])
def test_checks_are_answered_while_plans_are_searched_for(address: str, asked: Callable[[int], bytes]) -> None:
    """Somebody at a desk who tries out plans must not stop a line."""
    heard, checks = heard_beside_checks(address, asked)

    assert [True] * LONG == [each.status < 300 for each in heard], heard[0].body
    assert checks >= LEAST_CHECKS


def cut_off(number: int) -> bytes:
    """A lot whose end was lost."""
    return request("POST", "/v1/verdicts", BEFORE_VALUES + many(b"130.5, ", MANY_BYTES) + b"%d" % number)


def with_a_word(number: int) -> bytes:
    """A lot with a word among its readings, which are looked over without it."""
    return request("POST", "/v1/verdicts", BEFORE_VALUES + b'"%d", ' % number + many(b"130.5, ", MANY_BYTES) + b"1]}]}}")


def of_many_members(number: int) -> bytes:
    """A check as long as a lot."""
    members = b", ".join(b'"m%d": %d' % (each, number) for each in range(MANY_BYTES // 16))
    return request("POST", "/v1/checks", b"{" + members + b"}")


def many(item: bytes, size: int) -> bytes:
    """As often as fits into so many bytes."""
    return item * (size // len(item))


@pytest.mark.parametrize("asked", [cut_off, with_a_word, of_many_members])
def test_checks_are_answered_while_long_bodies_are_searched_for_flaws(address: str, asked: Callable[[int], bytes]) -> None:
    """A program that writes lots wrongly, and sends them again and again, must not stop a line."""
    heard, checks = heard_beside_checks(address, asked)

    assert {400, 422} >= {each.status for each in heard}
    assert all(each.document["flaws"] for each in heard)
    assert checks >= LEAST_CHECKS


def test_checks_are_answered_while_good_rows_are_read(address: str) -> None:
    """A tester that sends a day's file must not stop a line either."""
    assert 201 == ask(address, "PUT", "/v1/lots/L-1", {"grade": GRADE}).status
    rows = b"characteristic,unit,value\n" + many(b"breaking_force,N,1432.5\n", 1_000_000)

    def batch(number: int) -> bytes:
        head = f"POST /v1/lots/L-1/readings?batch=B{number} HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: text/csv\r\n"
        return f"{head}Content-Length: {len(rows)}\r\n\r\n".encode() + rows

    heard, checks = heard_beside_checks(address, batch)

    assert [201] * LONG == [each.status for each in heard], heard[0].body
    assert checks >= 2 * LEAST_CHECKS
