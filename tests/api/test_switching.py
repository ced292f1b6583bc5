"""How severely the lots of a line are inspected, over HTTP: real lots, opened, counted and closed."""

import asyncio
from collections.abc import AsyncIterator
from typing import Any

import pytest

from service.storage.database import open_database
from service.storage.verifying import verify
from tests.support.counted import attributes, count, look_grade
from tests.support.inspected import Mill, mill_on

J = {"plan": "code_letter", "table": "MIL-STD-105E", "letter": "J", "aql": 2.5}
"""80 packages: normal 5/6, tightened 3/4; reduced 32, 2/5. Source: MIL-STD-105E Tables II-A to II-C (SEEN)."""
LINE = "switching/L-3"


@pytest.fixture
async def mill(database_url: str) -> AsyncIterator[Mill]:
    """A mill whose bales are looked over by a plan that switches."""
    async with mill_on(database_url, "T-1", look_grade(attributes(None, sample=J))) as made:
        yield made


async def closed(mill: Mill, lot: str, nonconforming: int, inspected: int = 80, **told: Any) -> Any:
    """A lot of the line in which so many packages were nonconforming; what it carried, and its outcome."""
    shown = await mill.open(lot, **{"line": "L-3", **told})
    verdict = await mill.close(lot, counts=[count(inspected, nonconforming)])
    return shown.get("inspections"), verdict["outcome"]


def carrying(state: str) -> list[dict[str, str]]:
    """What a lot carries."""
    return [{"state": state, "class": "major"}]


async def decided(mill: Mill, key: str, inspection: str, status: int = 201, **members: Any) -> Any:
    """A decision on the line."""
    body = {"id": key, "class": "major", "inspection": inspection, "reason": "The knotter was set anew.", **members}
    answer = await mill.client.post(f"/v1/grades/{mill.grade}/{LINE}/override", json=body)
    assert status == answer.status_code, answer.text
    return answer.json()


async def state(mill: Mill) -> str:
    """Where class `major` of the line stands."""
    return str((await mill.got(LINE))["classes"][0]["state"])


async def test_two_lots_not_accepted_tighten_the_inspection_of_the_next(mill: Mill) -> None:
    """MIL-STD-105E, 4.7.1; the third lot has 4 nonconforming in 80, which normal inspection would have accepted."""
    found = [await closed(mill, f"0412-{number}", bad) for number, bad in enumerate((6, 6, 4))]
    shown = await mill.got(LINE)
    evidence = await mill.client.get("/v1/lots/0412-2/evidence")

    assert [(carrying("normal"), "fail"), (carrying("normal"), "fail"), (carrying("tightened"), "fail")] == found
    assert [{"inspection": "tightened", "class": "major"}] == evidence.json()["lot"]["inspections"]
    assert ("tightened", "tightened", 1) == tuple(shown["classes"][0][name] for name in ("state", "inspection", "rejected"))
    assert [("normal", "tightened", "two-of-five-rejected", "0412-1")] == [
        (each["from"], each["to"], each["code"], each["lot"]) for each in shown["classes"][0]["switches"]
    ]


async def test_lines_are_apart_and_a_lot_without_one_carries_nothing(mill: Mill) -> None:
    """Another line's failures are not this one's."""
    for number in (1, 2):
        await closed(mill, f"A-{number}", 6, line="L-4")

    assert (carrying("normal"), "pass") == await closed(mill, "B-1", 5)
    assert "inspections" not in await mill.open("C-1")


async def test_who_opens_may_tell_another_inspection(mill: Mill) -> None:
    """A buyer's inspector applies what he wants; such a lot counts towards no switch of what is in effect."""
    assert (None, "pass") == await closed(mill, "A-1", 2, inspected=32, inspection="reduced")
    assert [] == (await mill.got(LINE))["classes"][0]["recent"]


async def test_a_lot_that_is_presented_again_counts_for_nothing(mill: Mill) -> None:
    """4.7.1 speaks of original inspection; else sorting a lot out would tighten, or loosen, by itself."""
    await closed(mill, "A-1", 6)
    await closed(mill, "A-1-sorted", 6, resubmits="A-1")
    refused = await mill.client.put("/v1/lots/B", json={"grade": mill.grade, "line": "L-3", "resubmits": "A-7"})

    assert [False] == (await mill.got(LINE))["classes"][0]["recent"]
    assert (422, [("/resubmits", "not-resubmitted")]) == (
        refused.status_code,
        [(each["at"], each["code"]) for each in refused.json()["flaws"]],
    )


async def test_opening_again_is_answered_the_same_though_the_line_has_moved_on(mill: Mill) -> None:
    """A client that repeats a request must not be told that it differs, and the lot keeps what it carries."""
    first = await mill.open("A-9", line="L-3")
    for number in (1, 2):
        await closed(mill, f"A-{number}", 6)
    again = await mill.client.put("/v1/lots/A-9", json={"grade": mill.grade, "line": "L-3"})

    assert (200, first["inspections"], "tightened") == (again.status_code, again.json()["inspections"], await state(mill))


async def test_a_manager_decides_and_says_why(mill: Mill) -> None:
    """Reduced inspection is begun so after ten lots, and ends by the first one that is not accepted (4.7.4 a)."""
    for number in range(10):
        await closed(mill, f"N-{number}", 0)
    shown = await decided(mill, "QM-1", "reduced")
    again = await decided(mill, "QM-1", "reduced", 200)
    differs = await decided(mill, "QM-1", "tightened", 409)
    carried = [await closed(mill, "A-1", 2, inspected=32), await closed(mill, "A-2", 5, inspected=32)]

    assert [("reduced", "QM-1")] == [(each["to"], each["override"]) for each in shown["classes"][0]["switches"]]
    assert [("QM-1", "local", "major")] == [(each["id"], each["by"], each["class"]) for each in shown["decisions"]]
    assert shown == again
    assert ["/inspection"] == [each["at"] for each in differs["flaws"]]
    assert [(carrying("reduced"), "pass"), (carrying("reduced"), "fail")] == carried
    assert "normal" == await state(mill)


async def test_reduced_inspection_is_not_decided_before_it_is_earned(mill: Mill) -> None:
    """4.7.3 goes from normal alone, after ten lots; the refusal says how many there are, and nothing of it is kept."""
    at_once = await decided(mill, "QM-1", "reduced", 422)
    for number in (1, 2):
        await closed(mill, f"A-{number}", 6)
    tightened = await decided(mill, "QM-1", "reduced", 422)
    shown = await mill.got(LINE)

    assert [("reduced-too-early", "/inspection")] * 2 == [
        (each["code"], each["at"]) for each in (*at_once["flaws"], *tightened["flaws"])
    ]
    assert "needs 10 lots in a row accepted under normal inspection, and there are none so far." in at_once["detail"]
    assert "inspection is tightened. Decide when it is normal again" in tightened["detail"]
    assert ("tightened", []) == (shown["classes"][0]["state"], shown["decisions"])


async def test_acceptance_that_was_stopped_is_taken_up_by_a_decision_alone(mill: Mill) -> None:
    """4.8: five lots not accepted under tightened inspection; then nothing but tightened inspection."""
    for number in range(7):
        await closed(mill, f"A-{number}", 6)
    stopped = await state(mill)
    opened_then = await mill.open("B-1", line="L-3")
    refused = await decided(mill, "QM-1", "normal", 422)
    await decided(mill, "QM-1", "tightened")

    assert ("discontinued", carrying("discontinued")) == (stopped, opened_then["inspections"])
    assert ["resume-tightened"] == [each["code"] for each in refused["flaws"]]
    assert "tightened" == await state(mill)


@pytest.mark.parametrize(
    ("members", "code"),
    [
        ({"class": "minor"}, "unknown-class"),
        ({"class": None, "requirement": "r9"}, "unknown-requirement"),
        ({"requirement": "r0"}, "class-or-requirement"),
        ({"inspection": "normal"}, "inspection-in-effect"),
    ],
)
async def test_a_decision_that_decides_nothing_is_refused(mill: Mill, members: dict[str, Any], code: str) -> None:
    """And says what is meant instead."""
    body = {"id": "QM-1", "class": "major", "inspection": "tightened", "reason": "A new knotter.", **members}
    sent = {name: member for name, member in body.items() if member is not None}
    answer = await mill.client.post(f"/v1/grades/{mill.grade}/{LINE}/override", json=sent)

    assert (422, [code]) == (answer.status_code, [each["code"] for each in answer.json()["flaws"]])


async def test_a_lot_moved_to_a_newer_revision_carries_what_that_one_switches(mill: Mill) -> None:
    """A class that the newer revision does not have would make the lot's evidence impossible to judge."""
    for number in (1, 2):
        await closed(mill, f"A-{number}", 6)
    await mill.open("B-1", line="L-3")
    await mill.release(look_grade({**attributes(None, sample=J), "class": "minor"}))
    moved = await mill.client.post("/v1/lots/B-1/revision", json={"id": "M", "revision": 2, "reason": "Agreed."})

    assert (201, [{"state": "normal", "class": "minor"}]) == (moved.status_code, moved.json()["inspections"])


async def test_two_replicas_agree_whatever_closes_at_once(mill: Mill, database_url: str) -> None:
    """Lots of one line that are closed at the same moment by two services have one order, which the database holds."""
    async with mill_on(database_url, "T-2", look_grade(attributes(None, sample=J))) as other:
        second = other._replace(grade=mill.grade)
        await mill.open("A-0", line="L-3")
        for number in range(1, 7):
            await mill.open(f"A-{number}", line="L-3")
        closers = [
            (mill, second)[number % 2].close(f"A-{number}", counts=[count(80, 6 * (number % 3 == 0))]) for number in range(7)
        ]
        await asyncio.gather(*closers)
        found = [await each.got(LINE) for each in (mill, second)]
    async with open_database(database_url) as database:
        verified = await verify(database)

    assert found[0] == found[1]
    # Of seven lots three were not accepted, so two of them within five, in whichever order they were closed.
    assert ("tightened", 1) == (found[0]["classes"][0]["state"], len(found[0]["classes"][0]["switches"]))
    assert verified.mismatch is None


async def test_a_correction_moves_what_follows_it_and_no_lot_that_is_open(mill: Mill, database_url: str) -> None:
    """It counts in the place of the lot's first verdict, also for a service that reads the line for the first time."""
    for number in (1, 2):
        await closed(mill, f"A-{number}", 6)
    before = await mill.open("B-1", line="L-3")
    strikes = [{"of": "A-1-B", "at": ["/counts/0"]}]
    correction = {"id": "C-1", "reason": "Miscounted.", "strikes": strikes, "counts": [count(80, 1)]}
    corrected = await mill.client.post("/v1/lots/A-1/corrections", json=correction)
    after = await mill.got(LINE)
    async with mill_on(database_url, "T-2", look_grade(attributes(None, sample=J))) as cold:
        read_anew = await cold._replace(grade=mill.grade).got(LINE)

    assert 201 == corrected.status_code, corrected.text
    assert carrying("tightened") == before["inspections"]
    assert ("normal", [True, False], []) == tuple(after["classes"][0][name] for name in ("state", "recent", "switches"))
    assert after == read_anew
    assert carrying("tightened") == (await mill.client.get("/v1/lots/B-1")).json()["inspections"]
    assert carrying("normal") == (await mill.open("B-2", line="L-3"))["inspections"]
