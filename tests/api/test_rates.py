"""How much one caller may send: he is told before it is too much, and when to come again."""

from pathlib import Path

import pytest

from service.api.access.rates import RateLimiter
from service.api.problems import RefusalError
from tests.faults.invented import CHECK, GRADE
from tests.faults.talking import line_to, request
from tests.support.commands import SPECIFICATION
from tests.support.grade_caches import Ticks
from tests.support.services import released, service_in

MANY = 50
HEALTH = request("GET", "/health/live")


def taken(rates: RateLimiter, name: str) -> int:
    """How many requests of a caller are taken before one is refused."""
    for number in range(MANY):
        try:
            rates.take(name)
        except RefusalError:
            return number
    return MANY


def test_a_caller_has_a_seconds_worth_and_then_as_many_as_time_goes_by() -> None:
    """A station that sends a handful at once is none that sends too much."""
    ticks = Ticks()
    rates = RateLimiter(5, ticks)

    assert 5 == taken(rates, "line-1")
    ticks.seconds += 0.4
    assert 2 == taken(rates, "line-1")
    ticks.seconds += 3600
    assert 5 == taken(rates, "line-1")


def test_one_caller_does_not_use_up_anothers() -> None:
    """That is what the limit is for."""
    rates = RateLimiter(5, Ticks())
    taken(rates, "line-1")

    assert 5 == taken(rates, "line-2")


def test_a_caller_reads_what_is_left() -> None:
    """And can slow down before he is refused."""
    ticks = Ticks()
    rates = RateLimiter(4, ticks)

    assert (("ratelimit-policy", '"key";q=4;w=1'), ("ratelimit", '"key";r=4;t=0')) == rates.header_fields("line-1")
    rates.take("line-1")
    assert ("ratelimit", '"key";r=3;t=1') == rates.header_fields("line-1")[1]
    taken(rates, "line-1")
    assert ("ratelimit", '"key";r=0;t=1') == rates.header_fields("line-1")[1]


def test_who_is_refused_is_told_when_to_come_again() -> None:
    """After that time there is room for one at least."""
    ticks = Ticks()
    rates = RateLimiter(1, ticks)
    rates.take("line-1")

    with pytest.raises(RefusalError, match="More than 1 request a second came from line-1") as refused:
        rates.take("line-1")

    headers = dict(refused.value.headers)
    ticks.seconds += int(headers["retry-after"])
    assert 1 == taken(rates, "line-1")


def test_a_service_that_is_set_to_count_refuses_what_is_too_much(tmp_path: Path) -> None:
    """With the fields on every answer, and health outside of it."""
    with service_in(tmp_path, RATE_PER_KEY="2") as address, line_to(address) as line:
        heard = [line.ask(CHECK) for _ in range(MANY)]
        refused = [each for each in heard if each.status == 429]

        assert refused
        assert {"/problems/too-many-requests"} == {each.document["type"] for each in refused}
        assert {"1"} == {each.headers["retry-after"] for each in refused}
        assert {'"key";q=2;w=1'} == {each.headers["ratelimit-policy"] for each in heard}
        assert all(each.headers["ratelimit"].startswith('"key";r=') for each in heard)
        assert {200} == {line.ask(HEALTH).status for _ in range(MANY)}
        assert "ratelimit" not in line.ask(HEALTH).headers


def test_a_service_that_is_not_set_to_count_says_nothing_of_it(tmp_path: Path) -> None:
    """A limit that nobody asked for stops a line some day."""
    with service_in(tmp_path) as address, line_to(address) as line:
        released(address, GRADE, SPECIFICATION)
        heard = [line.ask(CHECK) for _ in range(MANY)]

    assert {200} == {each.status for each in heard}
    assert "ratelimit" not in heard[0].headers
