"""What a lot's changes tell of concessions and dispositions, and what is wrong with these by themselves."""

from datetime import UTC, datetime
from typing import Any

import msgspec
import pytest

from service.engine.ledger import (
    CONCESSION,
    DISPOSITION,
    OPENED,
    Change,
    Concession,
    Disposition,
    LotHistory,
    concession_flaws,
    disposition_flaws,
)
from service.engine.ledger.disposing import LotDispositions

OWN = "TB-130"
DAY = datetime(2026, 11, 27, 9, 12, tzinfo=UTC)
ASKED = {"id": "D-1", "disposition": "hold", "reason": "The oil is measured again."}
ALLOWED = {"authority": "The buyer", "reason": "For this season.", "for": "release"}


def change(number: int, kind: str, key: str, document: dict[str, Any]) -> Change:
    """A change as it is kept."""
    return Change(
        number=number, at=DAY, by="anna", kind=kind, key=key, digest="sha256:0", document=msgspec.json.encode(document)
    )


def test_dispositions_are_folded_in_their_order() -> None:
    """The last one is the lot's, and the others stay to be read."""
    folded = LotHistory("L-1")
    folded.add(change(1, OPENED, "", {"grade": OWN, "revision": 1}))
    folded.add(change(2, CONCESSION, "/concessions/C-1", ALLOWED))
    folded.add(change(3, DISPOSITION, "D-1", ASKED))
    later = folded.with_change(change(4, DISPOSITION, "D-2", {**ASKED, "id": "D-2", "disposition": "scrap", "verdict": 1}))

    assert ("The buyer", "anna", DAY) == (
        (granted := folded.handled.concessions["C-1"]).document.authority,
        granted.by,
        granted.at,
    )
    assert [(1, "hold")] == [(each.number, each.document.disposition) for each in folded.handled.dispositions]
    assert [(1, "hold"), (2, "scrap")] == [(each.number, each.document.disposition) for each in later.handled.dispositions]
    assert {"D-1": 1, "D-2": 2} == later.handled.numbers


@pytest.mark.parametrize(("rests_on", "expected"), [({}, [False, True, True]), ({"verdict": 1}, [False, False, True])])
def test_a_disposition_is_of_an_earlier_verdict_where_one_came_since(rests_on: dict[str, int], expected: list[bool]) -> None:
    """Who released a lot before the correction did not know of it."""
    handled = LotDispositions()
    handled.dispose(change(1, DISPOSITION, "D-1", {**ASKED, **rests_on}))

    assert expected == [handled.dispositions[0].is_of_earlier_verdict(verdicts) for verdicts in (0, 1, 2)]


@pytest.mark.parametrize(
    ("members", "code", "at"),
    [
        ({"disposition": "regrade"}, "grade-not-named", "/grade"),
        ({"disposition": "regrade", "grade": OWN}, "grade-of-lot", "/grade"),
        ({"disposition": "release", "grade": "TB-110"}, "grade-not-asked", "/grade"),
        ({"disposition": "scrap", "concession": "C-1"}, "concession-not-needed", "/concession"),
        ({"disposition": "hold", "concession": "C-1"}, "concession-not-needed", "/concession"),
        ({"disposition": "rework", "concession": "C-1"}, "concession-not-needed", "/concession"),
    ],
)
def test_a_disposition_says_what_it_takes_and_nothing_else(members: dict[str, Any], code: str, at: str) -> None:
    """A member that means nothing would be read by somebody as if it did."""
    asked = msgspec.convert({**ASKED, **members}, Disposition)

    assert [(code, at)] == [(flaw.code, flaw.at) for flaw in disposition_flaws(asked, OWN)]


@pytest.mark.parametrize(
    ("members", "codes"),
    [
        ({}, []),
        ({"for": "regrade", "grade": "TB-110"}, []),
        ({"for": "regrade"}, ["grade-not-named"]),
        ({"for": "regrade", "grade": OWN}, ["grade-of-lot"]),
        ({"grade": "TB-110"}, ["grade-not-asked"]),
    ],
)
def test_a_concession_names_a_grade_for_a_regrade_alone(members: dict[str, Any], codes: list[str]) -> None:
    """Else nobody could say as what the lot may go out."""
    concession = msgspec.convert({**ALLOWED, **members}, Concession)

    assert codes == [flaw.code for flaw in concession_flaws(concession, OWN)]
