"""A kind of requirement takes a document, its flaws, and a compiled rule that judges: nothing else has to know of it."""

import sys
from collections.abc import Iterator
from typing import Any

import pytest

from tests.support.grades import FORCE, fixed
from tests.support.services import ask, released, service_in

WITH_MEDIAN = (sys.executable, "-c", "import tests.support.median; from service.cli import main; main()")
SPECIFICATION = {
    "title": "Baler twine (invented figures)",
    "characteristics": [{**FORCE, "sample": fixed(3)}],
    "requirements": [{"id": "middle", "kind": "median", "of": "breaking_force", "at_least": 1400}],
}


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """One that knows the kind besides its own, with a grade of it in force."""
    with service_in(tmp_path_factory.mktemp("median"), WITH_MEDIAN) as address:
        released(address, "TB-130", SPECIFICATION)
        yield address


def series(*values: float) -> list[dict[str, Any]]:
    """Readings of force."""
    return [{"characteristic": "breaking_force", "unit": "N", "values": values}]


@pytest.mark.parametrize(
    ("values", "outcome", "code"),
    [
        ((1399, 1400, 1600), "pass", "within"),
        ((1300, 1399.9, 1600), "fail", "below-at-least"),
        ((1600, 1600), "undecided", "readings-missing"),
    ],
)
def test_a_lot_is_judged_by_a_new_kind(service: str, values: tuple[float, ...], outcome: str, code: str) -> None:
    """Its reason stands in the verdict as it gives it."""
    evidence = {"lot": {"id": "0412-07"}, "series": series(*values)}
    verdict = ask(service, "POST", "/v1/verdicts", {"against": {"grade": "TB-130"}, "evidence": evidence}).document

    assert (outcome, code) == (verdict["outcome"], verdict["findings"][0]["reasons"][0]["code"])


def test_flaws_of_a_new_kind_are_told_with_their_places(service: str) -> None:
    """Those that all kinds on readings have, and its own."""
    wrong = {**SPECIFICATION, "requirements": [{"id": "middle", "kind": "median", "of": "twist_direction", "at_least": 1e13}]}
    wrong["characteristics"] = [{"name": "twist_direction"}]
    flaws = ask(service, "POST", "/v1/reviews", wrong).document["flaws"]

    expected = {("category-not-measured", "/requirements/0/of"), ("beyond-range", "/requirements/0/at_least")}
    assert expected <= {(each["code"], each["at"]) for each in flaws}


def test_what_a_new_kind_draws_is_told(service: str) -> None:
    """Its sample, as of any kind on readings."""
    draws = ask(service, "POST", "/v1/draws", {"against": {"grade": "TB-130"}, "lot": {"size": 480}}).document["draws"]

    assert [("middle", "median", 3)] == [(each["requirement"], each["kind"], each["packages"]) for each in draws]


def test_a_reading_is_checked_beside_a_new_kind(service: str) -> None:
    """It puts no limit on a single reading, and the check says so."""
    check = {"grade": "TB-130", "characteristic": "breaking_force", "unit": "N", "value": 1432.5}
    answer = ask(service, "POST", "/v1/checks", check).document

    assert ("undecided", "no-single-limit") == (answer["outcome"], answer["reasons"][0]["code"])


def test_a_lot_is_followed_and_closed_by_a_new_kind(service: str) -> None:
    """What is lacking and what has moved is told batch by batch; the verdict that closes the lot replays to the same bytes."""
    ask(service, "PUT", "/v1/lots/L1", {"grade": "TB-130"})
    first = ask(service, "POST", "/v1/lots/L1/readings", {"batch": "B1", "series": series(1500, 1300)}).document
    second = ask(service, "POST", "/v1/lots/L1/readings", {"batch": "B2", "series": series(1450)}).document
    closed = ask(service, "POST", "/v1/lots/L1/close", {}).document
    again = ask(service, "POST", "/v1/lots/L1/verdicts/1/replay", {}).document

    assert "undecided" == first["requirements"][0]["outcome"]
    assert 1 == first["requirements"][0]["missing"][0]["packages"]
    assert "pass" == second["requirements"][0]["outcome"]
    assert ("closed", "pass") == (closed["state"], closed["verdict"]["outcome"])
    assert again["agrees"]
