"""What is wrong with a claim, whatever lot it is on."""

import msgspec

from service.engine.ledger import Claim, claim_flaws

KNOWN = ["strength", "weak-places"]


def flaws(*requirements: str, received_on: str = "2027-06-01") -> list[tuple[str, str]]:
    """(at, code) of each flaw."""
    document = {"from": "Buyer B-17", "received_on": received_on, "requirements": list(requirements)}
    return [(each.at, each.code) for each in claim_flaws(msgspec.convert(document, Claim), KNOWN)]


def test_a_claim_names_requirements_of_the_grade_once_each() -> None:
    """What it is about has to be there, or nothing can be set beside it."""
    assert [] == flaws("weak-places", "strength")
    assert [("/requirements/1", "requirement-twice")] == flaws("strength", "strength")
    assert [("/requirements/0", "unknown-requirement")] == flaws("strenght")


def test_a_claim_is_received_on_a_day_that_there_is() -> None:
    """The calendar decides, not the pattern."""
    assert [("/received_on", "no-such-day")] == flaws("strength", received_on="2027-06-31")
