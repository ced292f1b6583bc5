"""A line at which acceptance is discontinued lets no lot out: real lots, counted, closed and disposed of over HTTP."""

from collections.abc import AsyncIterator
from typing import Any

import pytest

from tests.support.counted import attributes, count, look_grade
from tests.support.grades import Document
from tests.support.inspected import Mill, mill_on
from tests.support.problems import problem_of

LINE = "switching/L-3"


def letter_j(*, aql: float = 2.5, **members: Any) -> Document:
    """80 packages of class `major`: at 2.5 normal 5/6 and tightened 3/4, at 6.5 10/11. Source: MIL-STD-105E, Table II."""
    return attributes(None, sample={"plan": "code_letter", "table": "MIL-STD-105E", "letter": "J", "aql": aql}, **members)


@pytest.fixture
async def mill(database_url: str) -> AsyncIterator[Mill]:
    """A mill whose bales are looked over by a plan that switches."""
    async with mill_on(database_url, "T-1", look_grade(letter_j())) as made:
        yield made


async def looked(mill: Mill, lot: str, nonconforming: int = 0, *further: Document, **told: Any) -> str:
    """A lot of line L-3, unless another one is told, with so many nonconforming packages and further counts; its outcome."""
    await mill.open(lot, **{"line": "L-3", **told})
    return str((await mill.close(lot, counts=[count(80, nonconforming), *further]))["outcome"])


async def stop(mill: Mill, *further: Document) -> None:
    """Two lots that are not accepted tighten the line, five more discontinue it (4.7.1, 4.8)."""
    for number in range(7):
        await looked(mill, f"A-{number}", 11, *further)
    assert "discontinued" == (await mill.got(LINE))["classes"][0]["state"]


async def disposed(mill: Mill, lot: str, disposition: str = "release", key: str = "D-1", **members: Any) -> Any:
    """The answer to a disposition."""
    body = {"id": key, "disposition": disposition, "reason": "As ever.", **members}
    return await mill.client.post(f"/v1/lots/{lot}/dispositions", json=body)


async def other_grade(mill: Mill, code: str, specification: Document) -> Mill:
    """A client of a further grade that is in force."""
    other = mill._replace(grade=code)
    await other.release(specification)
    return other


async def test_a_lot_that_passes_stays_in_until_acceptance_is_taken_up_again(mill: Mill) -> None:
    """4.8: its verdict is as it is; the refusal names the line, the class, and the two ways out."""
    await stop(mill)
    assert "pass" == await looked(mill, "B-1")
    refused = problem_of(await disposed(mill, "B-1"), 409)
    decision = {"id": "QM-1", "class": "major", "inspection": "tightened", "reason": "The knotter was replaced."}
    resumed = await mill.client.post(f"/v1/grades/T-1/{LINE}/override", json=decision)
    released = await disposed(mill, "B-1")

    assert "/problems/concession-needed" == refused["type"]
    assert [("line-discontinued", "/disposition")] == [(each["code"], each["at"]) for each in refused["flaws"]]
    assert (
        "Acceptance of T-1 from line L-3 is discontinued for `major`, as too many lots under tightened inspection were "
        "not accepted. When the cause is removed, resume acceptance, with the reason: "
        "`POST /v1/grades/T-1/switching/L-3/override` with `tightened` as the `inspection`. To send it out all the same, "
        "have another person grant a concession, `PUT /v1/lots/B-1/concessions/{concession}`, and give it as `concession`."
    ) == refused["detail"]
    assert (201, 201) == (resumed.status_code, released.status_code)


async def test_a_concession_lets_a_lot_out_while_acceptance_is_discontinued(mill: Mill) -> None:
    """The buyer may take this one lot, and the line stays stopped for the next."""
    await stop(mill)
    for lot in ("B-1", "B-2"):
        await looked(mill, lot)
    allowed = {"for": "release", "authority": "The buyer", "reason": "Looked over by himself."}
    granted = await mill.client.put("/v1/lots/B-1/concessions/C-1", json=allowed)
    released = await disposed(mill, "B-1", concession="C-1")

    assert (201, 201) == (granted.status_code, released.status_code)
    problem_of(await disposed(mill, "B-2"), 409)


async def test_what_keeps_a_lot_in_is_always_open(mill: Mill) -> None:
    """Nobody asks how a line stands to hold a lot, to rework it or to scrap it."""
    await stop(mill)
    await looked(mill, "B-1")

    assert [201] * 3 == [
        (await disposed(mill, "B-1", each, key=f"D-{each}")).status_code for each in ("hold", "rework", "scrap")
    ]


async def test_lots_of_other_lines_and_of_none_go_out(mill: Mill) -> None:
    """What stopped is one line."""
    await stop(mill)
    await looked(mill, "B-1", line="L-4")
    await mill.open("C-1")
    await mill.close("C-1", counts=[count(80, 0)])

    assert (201, 201) == ((await disposed(mill, "B-1")).status_code, (await disposed(mill, "C-1")).status_code)


async def test_what_was_released_before_stays_released(mill: Mill) -> None:
    """It is answered again where it is sent again; a lot that was accepted before, and is still here, stays in."""
    for lot in ("B-1", "B-2"):
        await looked(mill, lot)
    first = await disposed(mill, "B-1")
    await stop(mill)
    again = await disposed(mill, "B-1")

    assert (201, 200, first.json()) == (first.status_code, again.status_code, again.json())
    assert "release" == (await mill.client.get("/v1/lots/B-1")).json()["disposition"]
    problem_of(await disposed(mill, "B-2"), 409)


async def test_a_correction_that_undoes_the_stop_lets_lots_out(mill: Mill) -> None:
    """How the line stands is found as the lot is released; of the seven lots one was miscounted."""
    await stop(mill)
    await looked(mill, "B-1")
    problem_of(await disposed(mill, "B-1"), 409)
    strikes = [{"of": "A-6-B", "at": ["/counts/0"]}]
    correction = {"id": "C-1", "reason": "Miscounted.", "strikes": strikes, "counts": [count(80, 1)]}
    assert 201 == (await mill.client.post("/v1/lots/A-6/corrections", json=correction)).status_code

    assert 201 == (await disposed(mill, "B-1")).status_code


async def test_a_lot_does_not_go_out_as_another_grade_either(mill: Mill) -> None:
    """Its packages come from the same line; a concession for the regrade lets it out."""
    await other_grade(mill, "T-2", look_grade(letter_j(aql=6.5)))
    await stop(mill)
    await looked(mill, "B-1")
    refused = problem_of(await disposed(mill, "B-1", "regrade", grade="T-2"), 409)
    allowed = {"for": "regrade", "grade": "T-2", "authority": "The buyer", "reason": "For hay."}
    await mill.client.put("/v1/lots/B-1/concessions/C-1", json=allowed)

    assert [("line-discontinued", "/disposition")] == [(each["code"], each["at"]) for each in refused["flaws"]]
    assert 201 == (await disposed(mill, "B-1", "regrade", grade="T-2", concession="C-1")).status_code


async def test_a_lot_does_not_go_out_as_a_grade_that_its_line_makes_no_more(mill: Mill) -> None:
    """Else a lot would be opened as another grade, and regraded past the stop."""
    other = await other_grade(mill, "T-2", look_grade(letter_j(aql=6.5)))
    await stop(mill)
    await looked(other, "B-1")
    refused = problem_of(await disposed(other, "B-1", "regrade", grade="T-1"), 409)

    assert [("line-discontinued", "/grade")] == [(each["code"], each["at"]) for each in refused["flaws"]]
    assert "Acceptance of T-1 from line L-3 is discontinued" in refused["detail"]
    assert 201 == (await disposed(other, "B-1")).status_code


async def test_a_class_that_binds_nothing_stops_nothing(database_url: str) -> None:
    """Lots pass whatever is found in it, so a line may go on whatever was found in it."""
    binding, minor = {**attributes(0), "class": "minor"}, count(80, 0, "minor")
    async with mill_on(database_url, "T-1", look_grade(letter_j(binding=False), binding)) as mill:
        await stop(mill, minor)

        assert "pass" == await looked(mill, "B-1", 11, minor)
        assert 201 == (await disposed(mill, "B-1")).status_code


async def test_a_class_that_the_lot_is_not_judged_by_stops_it_not(mill: Mill) -> None:
    """A newer revision looks for other faults, and its lots are of other findings."""
    await stop(mill)
    await mill.release(look_grade({**letter_j(), "class": "minor"}))
    await mill.open("B-1", line="L-3")
    await mill.close("B-1", counts=[count(80, 0, "minor")])

    assert 201 == (await disposed(mill, "B-1")).status_code
