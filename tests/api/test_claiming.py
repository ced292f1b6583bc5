"""Claims on lots, over HTTP: real lots, closed, and what a buyer holds against them."""

from collections.abc import AsyncIterator
from typing import Any

import pytest

from service.storage.database import open_database
from service.storage.verifying import verify
from tests.support.grades import FORCE, Document, each, grade, lot, mean, series
from tests.support.inspected import Mill, mill_on

LOT, CLAIM = "/v1/lots/0412-07", "/v1/lots/0412-07/claims/R-3"
STRENGTH = grade(mean(id="strength", lower=1400), each(id="weak-places", lower=1120), of=FORCE)
OURS = series(1500, 1450, 1300, packages=["b1", "b2", "b3"])
THEIRS = lot({**series(1350, 1390, 1100, 1410, packages=["b2", "x1", "x2", "x3"]), "method": "Wet, by the buyer"})
"""Mean 1312.5 N, which is 87.5 below 1400; and 1100 is 20 below 1120."""


def claim(**members: Any) -> Document:
    """A claim about the mean."""
    return {"from": "Buyer B-17", "received_on": "2027-06-01", "requirements": ["strength"], **members}


@pytest.fixture
async def mill(database_url: str) -> AsyncIterator[Mill]:
    """A mill that has closed one lot, which passes: (1500 + 1450 + 1300)/3 = 1416 2/3 N."""
    async with mill_on(database_url, "T-1", STRENGTH) as made:
        await made.open("0412-07")
        verdict = await made.close("0412-07", series=[OURS])
        assert "pass" == verdict["outcome"]
        yield made


async def put(mill: Mill, body: Document, path: str = CLAIM) -> tuple[int, Any]:
    """A claim, and what came of it."""
    answer = await mill.client.put(path, json=body)
    return answer.status_code, answer.json()


async def verdicts(mill: Mill) -> list[bytes]:
    """All that stands of the lot's verdicts, byte for byte."""
    listed = (await mill.client.get(f"{LOT}/verdicts")).json()["verdicts"]
    return [(await mill.client.get(f"{LOT}/verdicts/{each['number']}")).content for each in listed]


async def test_both_sides_stand_beside_each_other_and_no_verdict_moves(mill: Mill, database_url: str) -> None:
    """Two seasons later sales has to say what was found then, what they found, and what was done differently."""
    before = await verdicts(mill)
    status, found = await put(mill, claim(requirements=["strength", "weak-places"], evidence=THEIRS))
    shown = await mill.client.get(CLAIM)

    assert (201, "pass", "fail") == (status, found["ours"]["outcome"], found["theirs"]["outcome"])
    assert [("strength", "pass", "fail", -87.5), ("weak-places", "pass", "fail", -20)] == [
        (each["requirement"], each["ours"]["outcome"], each["theirs"]["outcome"], each["theirs"]["margin"])
        for each in found["compared"]
    ]
    assert {"sample-sizes", "methods", "packages"} == {each["code"] for each in found["compared"][0]["differ"]}
    assert (True, [], 1) == tuple(found["replay"][name] for name in ("agrees", "differences", "number"))
    assert (200, found) == (shown.status_code, shown.json())
    assert before == await verdicts(mill)
    async with open_database(database_url) as database:
        assert (await verify(database)).mismatch is None


async def test_their_evidence_is_kept_as_they_gave_it(mill: Mill) -> None:
    """It may be asked about again, by whatever revision."""
    _, found = await put(mill, claim(evidence=THEIRS))
    evidence = await mill.client.get(f"{CLAIM}/evidence")
    judged = await mill.client.post("/v1/verdicts", json={"against": {"grade": "T-1"}, "evidence": evidence.json()})

    assert THEIRS == evidence.json()
    assert (found["theirs"]["evidence"], "fail") == (judged.json()["evidence"], judged.json()["outcome"])


async def test_without_their_evidence_ours_stands_alone(mill: Mill) -> None:
    """A telephone call is a claim too."""
    status, found = await put(mill, claim())
    evidence = await mill.client.get(f"{CLAIM}/evidence")

    assert (201, False, 404) == (status, "theirs" in found, evidence.status_code)
    assert ["strength"] == [each["requirement"] for each in found["compared"]]


async def test_a_claim_is_made_once_under_its_name(mill: Mill) -> None:
    """Sent again it is answered the same; something else under its name is told apart."""
    first, again = await put(mill, claim(evidence=THEIRS)), await put(mill, claim(evidence=THEIRS))
    other = await put(mill, claim(evidence=THEIRS, received_on="2027-06-02"))

    assert (201, 200, first[1]) == (first[0], again[0], again[1])
    assert (409, ["/received_on"]) == (other[0], [each["at"] for each in other[1]["flaws"]])


@pytest.mark.parametrize(
    ("members", "flaws"),
    [
        ({"requirements": ["strenght"]}, [("/requirements/0", "unknown-requirement")]),
        ({"requirements": ["strength", "strength"]}, [("/requirements/1", "requirement-twice")]),
        ({"received_on": "2027-06-31"}, [("/received_on", "no-such-day")]),
        ({"evidence": lot(series(-1))}, [("/evidence/series/0/values/0", "negative")]),
    ],
)
async def test_what_is_wrong_with_a_claim_is_told(mill: Mill, members: Document, flaws: list[tuple[str, str]]) -> None:
    """And nothing of it is kept."""
    status, found = await put(mill, claim(**members))

    assert (422, flaws) == (status, [(each["at"], each["code"]) for each in found["flaws"]])
    assert 404 == (await mill.client.get(CLAIM)).status_code


async def test_a_lot_without_a_verdict_has_nothing_to_claim_against(mill: Mill) -> None:
    """Nobody has said yet what it is."""
    await mill.open("0412-08")
    status, found = await put(mill, claim(), "/v1/lots/0412-08/claims/R-3")

    assert (409, "/problems/conflict") == (status, found["type"])


async def test_a_claim_is_against_the_verdict_of_its_day(mill: Mill) -> None:
    """A correction that comes later is told, and the claim stays beside what it was about."""
    await put(mill, claim(evidence=THEIRS))
    slip = {"of": "0412-07-B", "at": ["/series/0/values/2"]}
    corrected = {"id": "K", "reason": "It was of another lot.", "strikes": [slip], "series": [series(1200)]}
    assert 201 == (await mill.client.post(f"{LOT}/corrections", json=corrected)).status_code
    found = (await mill.client.get(CLAIM)).json()
    _, later = await put(mill, claim(), f"{LOT}/claims/R-4")

    # (1500 + 1450 + 1200)/3 = 1383 1/3, which fails.
    assert (1, True, "pass") == (found["claim"]["verdict"], found["claim"]["is_of_earlier_verdict"], found["ours"]["outcome"])
    assert (2, False, "fail") == (later["claim"]["verdict"], later["claim"]["is_of_earlier_verdict"], later["ours"]["outcome"])


async def test_a_claim_is_settled_once_and_for_a_reason(mill: Mill) -> None:
    """It is closed by words, not by another verdict."""
    before = await verdicts(mill)
    await put(mill, claim(evidence=THEIRS))
    settlement = {"settlement": "shared", "reason": "Half of the price is credited."}
    answers = [
        await mill.client.post(f"{CLAIM}/settle", json=each)
        for each in (settlement, settlement, {**settlement, "settlement": "refused"})
    ]
    [listed] = (await mill.client.get(f"{LOT}/claims")).json()["claims"]

    assert [201, 200, 409] == [each.status_code for each in answers]
    assert ("shared", "Half of the price is credited.", "local") == tuple(
        listed["settled"][name] for name in ("settlement", "reason", "by")
    )
    assert before == await verdicts(mill)
    assert 404 == (await mill.client.post(f"{LOT}/claims/R-9/settle", json=settlement)).status_code


async def test_claims_are_listed_in_their_order_a_part_at_a_time(mill: Mill) -> None:
    """As they came."""
    for name in ("R-9", "R-1", "R-5"):
        await put(mill, claim(), f"{LOT}/claims/{name}")
    first = (await mill.client.get(f"{LOT}/claims?limit=2")).json()
    rest = (await mill.client.get(f"{LOT}/claims?limit=2&after={first['next']}")).json()

    assert ["R-9", "R-1", "R-5"] == [each["claim"] for page in (first, rest) for each in page["claims"]]
    assert "next" not in rest
