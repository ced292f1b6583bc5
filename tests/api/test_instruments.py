"""Instruments over HTTP: the register, and what becomes of the readings that were taken with them."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.support.grades import FORCE, RUNNAGE, Document, each, grade
from tests.support.services import Answered, Service, ask, released, two_services
from tests.support.within import Within, service_within

GRADE, LOT = "TB-130", "/v1/lots/0412-07"
TESTER = "/v1/instruments/TT-2"
EIGHT_NEWTONS = {"unit": "N", "expanded": 8, "coverage_factor": 2}
GUARDED = {"rule": "guarded_acceptance", "between": "undecided"}
STRICT = grade(
    {"id": "calibrated", **each(lower=1400)},
    {"id": "runnage", "of": "runnage", **each(lower=100)},
    of=[{**FORCE, "overdue_calibration": "undecided"}, RUNNAGE],
)
CAREFUL = grade({"id": "guarded", **each(lower=1400, decision=GUARDED)})


@pytest.fixture
def service(database_url: str) -> Iterator[Within]:
    """A service within this process."""
    with service_within(database_url) as made:
        yield made


def opened(service: Service, specification: Document) -> None:
    """A lot of a grade of this specification."""
    released(service, GRADE, specification)
    assert 201 == ask(service, "PUT", LOT, {"grade": GRADE}).status


def put(service: Service, **document: object) -> Answered:
    """What is known of the tester from now on."""
    return ask(service, "PUT", TESTER, {"measures": ["force"], **document})


def sent(service: Service, batch: str, value: float, instrument: str = "TT-2", **members: object) -> Answered:
    """One breaking force in newtons; members of its series besides."""
    series = {"characteristic": "breaking_force", "unit": "N", "values": [value], **members}
    return ask(service, "POST", f"{LOT}/readings", {"batch": batch, "instrument": instrument, "series": [series]})


def outcome(answer: Answered, requirement: str) -> str:
    """How a requirement stands after a batch that has moved it."""
    assert answer.status in {200, 201}, answer.body
    [found] = [each["outcome"] for each in answer.document["requirements"] if each["requirement"] == requirement]
    return str(found)


def evidence(service: Service) -> Any:
    """All that is known of the lot."""
    return ask(service, "GET", f"{LOT}/evidence").document


def flaws(answer: Answered) -> list[tuple[str, str]]:
    """(code, pointer) of each flaw of a refusal."""
    assert 422 == answer.status, answer.body
    return [(flaw["code"], flaw["at"]) for flaw in answer.document["flaws"]]


def test_the_register_is_kept_in_versions(service: Service) -> None:
    """Whoever looks sees what is known now, since when, by whom, and what was known before."""
    answers = [put(service, **known) for known in ({}, {"calibrated_until": "2027-03-31"}, {"calibrated_until": "2027-03-31"})]
    shown = ask(service, "GET", TESTER)

    assert [(201, 1), (200, 2), (200, 2)] == [(each.status, each.document["number"]) for each in answers]
    assert ["/v1/instruments/TT-2", None, None] == [each.headers.get("location") for each in answers]
    assert answers[1].document == answers[2].document == shown.document
    assert {"instrument": "TT-2", "number": 2, "by": "local", "measures": ["force"], "calibrated_until": "2027-03-31"} == {
        name: value for name, value in shown.document.items() if name != "at"
    }
    assert answers[0].document == ask(service, "GET", f"{TESTER}?number=1").document
    assert 404 == ask(service, "GET", f"{TESTER}?number=3").status
    assert 404 == ask(service, "GET", "/v1/instruments/TT-9").status


def test_instruments_are_listed_by_pages(service: Service) -> None:
    """A mill with hundreds of them gets each once."""
    for name in ("TT-1", "TT-2", "TT-3"):
        assert 201 == ask(service, "PUT", f"/v1/instruments/{name}", {"measures": ["force"]}).status
    first = ask(service, "GET", "/v1/instruments?limit=2").document
    rest = ask(service, "GET", f"/v1/instruments?limit=2&after={first['next']}").document

    assert ["TT-1", "TT-2", "TT-3"] == [each["instrument"] for page in (first, rest) for each in page["instruments"]]
    assert "next" not in rest


def test_flaws_of_an_instrument_are_told_at_once(service: Service) -> None:
    """Nothing is kept of it then."""
    document = {"measures": [], "calibrated_until": "31.3.2027", "uncertainty": [{"unit": "N"}], "owner": "x"}

    assert [
        ("too-short", "/measures"),
        ("not-a-date", "/calibrated_until"),
        ("missing-field", "/uncertainty/0/coverage_factor"),
        ("unknown-field", "/owner"),
    ] == flaws(ask(service, "PUT", TESTER, document))
    assert [("no-such-day", "/calibrated_until"), ("uncertainty-twice", "/uncertainty/1/unit")] == flaws(
        put(service, calibrated_until="2027-02-30", uncertainty=[EIGHT_NEWTONS, EIGHT_NEWTONS])
    )
    assert 404 == ask(service, "GET", TESTER).status


def test_readings_of_an_overdue_instrument_are_taken_and_marked(service: Service) -> None:
    """Nothing that was measured is lost, and no verdict rests on an instrument that nobody vouches for."""
    opened(service, STRICT)
    put(service, calibrated_until="2020-01-01")
    overdue = sent(service, "A", 1500)
    put(service, calibrated_until="2999-12-31")
    again, struck = sent(service, "A", 1500), {"id": "S", "of": "A", "at": ["/series/0/values/0"], "reason": "Overdue."}

    assert (201, "undecided") == (overdue.status, outcome(overdue, "calibrated"))
    assert {"instrument": "TT-2", "number": 1, "calibration": "overdue"} == overdue.document["instrument"]
    assert (200, overdue.document["instrument"]) == (again.status, again.document["instrument"])
    assert ["overdue"] == [series["calibration"] for series in evidence(service)["series"]]
    assert 201 == ask(service, "POST", f"{LOT}/strikes", struck).status
    assert "pass" == outcome(sent(service, "B", 1500), "calibrated")


def test_a_day_that_is_told_counts_and_not_that_of_the_recording(service: Service) -> None:
    """A station that was off the line for a week sends what it has measured before the date."""
    opened(service, STRICT)
    put(service, calibrated_until="2020-01-01")
    body = {"instrument": "TT-2", "series": [{"characteristic": "breaking_force", "unit": "N", "values": [1500]}]}
    early = ask(service, "POST", f"{LOT}/readings", {**body, "batch": "A", "measured_at": "2020-01-01T23:59:00+02:00"})

    assert "pass" == outcome(early, "calibrated")
    late = ask(service, "POST", f"{LOT}/readings", {**body, "batch": "B", "measured_at": "2020-01-02T00:00:00+02:00"})
    assert ("undecided", "overdue") == (outcome(late, "calibrated"), late.document["instrument"]["calibration"])


def test_an_overdue_instrument_is_not_hidden_by_what_the_caller_says_nor_the_reverse(service: Service) -> None:
    """The register adds, and takes nothing back."""
    opened(service, STRICT)
    put(service, calibrated_until="2999-12-31")

    assert "undecided" == outcome(sent(service, "A", 1500, calibration="overdue"), "calibrated")
    assert "calibration" not in sent(service, "B", 1500).document["instrument"]


def test_a_grade_that_does_not_mind_takes_them(service: Service) -> None:
    """They are marked all the same, for whoever asks later."""
    opened(service, grade({"id": "any", **each(lower=1400)}))
    put(service, calibrated_until="2020-01-01")

    assert "pass" == outcome(sent(service, "A", 1500), "any")
    assert ["overdue"] == [series["calibration"] for series in evidence(service)["series"]]


def test_a_batch_that_a_closed_lot_waited_for_is_marked_in_its_next_verdict(service: Service) -> None:
    """The laboratory's figure that comes three days later is no better than its instrument."""
    opened(service, STRICT)
    put(service, calibrated_until="2020-01-01")
    closed = ask(service, "POST", f"{LOT}/close", {}).document
    sent(service, "A", 1500)
    judged = [ask(service, "GET", f"{LOT}/verdicts/2{of}").document for of in ("", "/evidence")]

    assert "waiting" == closed["state"]
    assert ["overdue"] == [series["calibration"] for series in judged[1]["series"]]
    assert ["calibration-overdue"] == [reason["code"] for reason in judged[0]["verdict"]["findings"][0]["reasons"]]


def test_its_uncertainty_guards_the_limits(service: Service) -> None:
    """1407.9 N that is certain to 8 N need not be 1400 N; the station knows nothing of that."""
    opened(service, CAREFUL)
    nobody = sent(service, "A", 1450, "not-registered")
    ask(service, "POST", f"{LOT}/strikes", {"id": "S", "of": "A", "at": ["/series/0/values/0"], "reason": "None stated."})
    put(service, uncertainty=[EIGHT_NEWTONS])
    good, near = sent(service, "B", 1408), sent(service, "C", 1407.9)

    assert "undecided" == outcome(nobody, "guarded")
    assert "instrument" not in nobody.document
    assert ["pass", "undecided"] == [outcome(answer, "guarded") for answer in (good, near)]
    judged = ask(service, "POST", "/v1/verdicts", {"against": {"grade": GRADE}, "evidence": evidence(service)}).document
    assert near.document["evidence"] == judged["evidence"]
    assert "between-guarded-limits" == judged["findings"][0]["reasons"][0]["code"]


def test_what_a_batch_states_of_its_uncertainty_stands(service: Service) -> None:
    """1405 N with 2 N of its own is above 1400 N; with the register's 8 N it would not be for certain."""
    opened(service, CAREFUL)
    put(service, uncertainty=[EIGHT_NEWTONS])
    own = {"expanded": 2, "coverage_factor": 2}

    assert "pass" == outcome(sent(service, "A", 1405, uncertainty=own), "guarded")
    assert [own] == [series["uncertainty"] for series in evidence(service)["series"]]


def test_an_instrument_that_does_not_measure_it_is_a_flaw_beside_all_others(service: Service) -> None:
    """Rows are told by the row."""
    opened(service, STRICT)
    ask(service, "PUT", "/v1/instruments/TR-1", {"measures": ["runnage"]})
    query, csv = f"{LOT}/readings?batch=C&instrument=TR-1", {"Content-Type": "text/csv"}
    rows = b"characteristic,unit,value\nrunnage,m/kg,130\nbreaking_force,N,1500\n"

    assert [("not-measured-by-instrument", "/series/0/characteristic")] == flaws(sent(service, "A", 1500, "TR-1"))
    assert [("unit-of-other-quantity", "/series/0/unit"), ("not-measured-by-instrument", "/series/0/characteristic")] == flaws(
        sent(service, "B", 1500, "TR-1", unit="kg")
    )
    assert [("not-measured-by-instrument", "/1/characteristic")] == flaws(ask(service, "POST", query, rows, csv))
    assert [] == ask(service, "GET", LOT).document["readings"]


def test_the_marks_are_no_part_of_what_was_sent(service: Service) -> None:
    """The difference between two batches is what their sender sees, and the digest is of what he sent."""
    opened(service, STRICT)
    plain = sent(service, "P", 1500)
    put(service, calibrated_until="2020-01-01", uncertainty=[EIGHT_NEWTONS])
    sent(service, "A", 1500)
    other = sent(service, "A", 1510)
    kept = ask(service, "GET", f"{LOT}/batches/A").document["document"]
    digests = {each["id"]: each["digest"] for each in ask(service, "GET", f"{LOT}/changes").document["changes"]}

    assert [("differs", "/series/0/values/0")] == [(flaw["code"], flaw["at"]) for flaw in other.document["flaws"]]
    assert {
        "version": 1,
        "calibration": "overdue",
        "uncertainties": [{"series": 0, "uncertainty": {"expanded": 8, "coverage_factor": 2}}],
    } == kept["marks"]
    assert {"characteristic": "breaking_force", "unit": "N", "values": [1500]} == kept["series"][0]
    assert 201 == plain.status
    assert 200 == sent(service, "P", 1500).status
    assert digests["P"] != digests["A"]


def test_two_servers_on_one_database_agree_on_an_instrument(database_url: str, tmp_path: Path) -> None:
    """The administrator's browser reached one of them, and the station the other a moment later."""
    with two_services(database_url, tmp_path) as (one, other):
        opened(one, STRICT)
        seen = []
        for number, year in enumerate((2020, 2999, 2021)):
            put(one, calibrated_until=f"{year}-01-01")
            seen.append(sent(other, f"B{number}", 1500).document["instrument"])
        shown = [evidence(service) for service in (one, other)]

    assert [(1, "overdue"), (2, None), (3, "overdue")] == [(each["number"], each.get("calibration")) for each in seen]
    assert shown[0] == shown[1]
