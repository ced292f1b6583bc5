"""What-if over HTTP: lots measured and closed, then judged again by a draft."""

import asyncio
import json
from collections.abc import AsyncIterator
from typing import Any

import pytest

from service.usecases import impact
from tests.support.grades import FORCE, each, fixed, grade, mean, series
from tests.support.inspected import Mill, mill_on

AT_300 = grade(mean(id="strength", lower=300), each(id="single", lower=250))
AT_310 = grade(mean(id="strength", lower=310), each(id="single", lower=250))
LOTS = {
    "A0": (320, 330),
    "A1": (305, 309),
    "A2": (310,),
    "A3": (309.99,),
    "A4": (299, 300),
    "A5": (240, 400),
    "A6": (240, 372),
    "A7": (300,),
    "A8": (311, 309),
    "A9": (290, 295),
}
"""Means by hand: 325, 307, 310, 309.99, 299.5, 320, 306, 300, 310, 292.5. From 300 to below 310, so changed: A1, A3, A6, A7; of
these A6 failed before, by its single reading of 240, as A5 did."""


@pytest.fixture
async def mill(database_url: str) -> AsyncIterator[Mill]:
    """A mill whose twine has a mean of 300 N."""
    async with mill_on(database_url, "T-1", AT_300) as made:
        yield made


async def drafted(mill: Mill, specification: Any) -> int:
    """The number of a draft."""
    answer = await mill.client.post("/v1/grades/T-1/revisions", json=specification)
    assert 201 == answer.status_code, answer.text
    number: int = answer.json()["revision"]
    return number


async def measured(mill: Mill, lots: dict[str, tuple[float, ...]], line: str = "L-1") -> None:
    """Lots with these breaking forces in newtons, closed one after the other."""
    for lot, values in lots.items():
        await mill.open(lot, line=line)
        await mill.close(lot, series=[series(*values)])


async def asked(mill: Mill, revision: int, **period: object) -> list[dict[str, Any]]:
    """The lines of the answer."""
    answer = await mill.client.post(f"/v1/grades/T-1/revisions/{revision}/impact", json=period)
    assert 200 == answer.status_code, answer.text
    assert "application/x-ndjson" == answer.headers["content-type"]
    assert answer.content.endswith(b"\n")
    return [json.loads(line) for line in answer.content.splitlines()]


def lots_in(lines: list[dict[str, Any]]) -> list[str]:
    """The lots that are told of."""
    return [each["lot"] for each in lines if each["kind"] == "lot"]


async def test_a_draft_with_a_tighter_limit_shows_which_lots_it_would_fail(mill: Mill) -> None:
    """Ten lots worked out by hand; nothing is kept of it."""
    await measured(mill, LOTS)
    draft = await drafted(mill, AT_310)
    lines = await asked(mill, draft)
    told = {each["lot"]: each for each in lines if each["kind"] == "lot"}
    strength = [{"requirement": "strength", "then": "pass", "now": "fail"}]

    # The newest first.
    assert ["A7", "A6", "A3", "A1"] == list(told)
    assert {"kind": "lot", "lot": "A1", "verdict": 1, "then": "pass", "now": "fail", "requirements": strength} == told["A1"]
    assert ("fail", "fail", strength) == (told["A6"]["then"], told["A6"]["now"], told["A6"]["requirements"])
    assert {"kind": "progress", "judged": 0, "of": 10, "changed": 0} == lines[0]
    assert {"kind": "progress", "judged": 10, "of": 10, "changed": 4} == lines[-2]
    summary = lines[-1]
    assert {"kind": "summary", "grade": "T-1", "revision": 2, "judged": 10, "of": 10, "changed": 4, "flawed": 0} == {
        name: value for name, value in summary.items() if name not in {"specification", "outcomes", "requirements"}
    }
    # Pass: A0, A2, A8. Pass, then fail: A1, A3, A7. Fail: A4, A5, A6, A9.
    assert [("pass", "pass", 3), ("pass", "fail", 3), ("fail", "fail", 4)] == [
        (each["then"], each["now"], each["lots"]) for each in summary["outcomes"]
    ]
    # By the mean alone A5 passes both and A6 only the first.
    assert [
        ("strength", [("pass", "pass", 4), ("pass", "fail", 4), ("fail", "fail", 2)]),
        ("single", [("pass", "pass", 8), ("fail", "fail", 2)]),
    ] == [
        (each["requirement"], [(one["then"], one["now"], one["lots"]) for one in each["outcomes"]])
        for each in summary["requirements"]
    ]
    assert summary["specification"] == (await mill.got(f"revisions/{draft}"))["specification"]
    assert "draft" == (await mill.got(f"revisions/{draft}"))["state"]
    assert 1 == len((await mill.client.get("/v1/lots/A1/verdicts")).json()["verdicts"])


async def test_the_lots_of_a_period_and_of_lines_are_meant(mill: Mill) -> None:
    """From a moment on, before a moment, from these lines, the newest so many."""
    for number, line in enumerate(("L-1", "L-2", "L-3", "L-1")):
        await measured(mill, {f"A{number}": (305,)}, line)
    draft = await drafted(mill, AT_310)
    moments = [each["at"] for each in (await mill.got("trends/breaking_force"))["trend"]["lots"]]

    async def lots(**period: object) -> tuple[list[str], int]:
        lines = await asked(mill, draft, **period)
        return lots_in(lines), lines[-1]["of"]

    assert (["A3", "A2", "A1", "A0"], 4) == await lots()
    assert (["A3", "A2"], 2) == await lots(**{"from": moments[2]})
    assert (["A1", "A0"], 2) == await lots(until=moments[2])
    assert (["A2"], 1) == await lots(**{"from": moments[2], "until": moments[3]})
    assert (["A3", "A2", "A0"], 3) == await lots(lines=["L-1", "L-3"])
    assert (["A3", "A2", "A1"], 3) == await lots(limit=3)
    assert (["A3"], 1) == await lots(lines=["L-1"], limit=1)
    assert ([], 0) == await lots(lines=["L-9"])


async def test_the_newest_verdict_is_what_counts(mill: Mill) -> None:
    """A lot that waited has two verdicts, and is compared by the second one, with all that was measured by then."""
    await mill.release(grade(mean(id="strength", lower=300), of={**FORCE, "sample": fixed(2)}))
    await mill.open("A")
    await mill.close("A", series=[series(305)])
    added = {"batch": "2", "series": [series(335)]}
    assert 201 == (await mill.client.post("/v1/lots/A/readings", json=added)).status_code
    number = len((await mill.client.get("/v1/lots/A/verdicts")).json()["verdicts"])
    # (305 + 335) / 2 is 320 N.
    draft = await drafted(mill, grade(mean(id="strength", lower=320.5)))
    told = [each for each in await asked(mill, draft) if each["kind"] == "lot"]

    assert [("A", number, "pass", "fail")] == [(each["lot"], each["verdict"], each["then"], each["now"]) for each in told]


async def test_a_released_revision_is_asked_about_too(mill: Mill) -> None:
    """The one that judged them changes nothing."""
    await measured(mill, {"A": (305,), "B": (290,)})
    summary = (await asked(mill, 1))[-1]

    assert (2, 0) == (summary["judged"], summary["changed"])


async def test_what_is_not_there_or_not_right_is_refused(mill: Mill) -> None:
    """Before anything is begun, as by any other route."""
    unknown = await mill.client.post("/v1/grades/T-1/revisions/7/impact", json={})
    flawed = await mill.client.post(
        "/v1/grades/T-1/revisions/1/impact", json={"from": "yesterday", "linse": ["L-1"], "limit": 0}
    )

    assert (404, "application/problem+json") == (unknown.status_code, unknown.headers["content-type"])
    assert (422, {"/from", "/linse", "/limit"}) == (flawed.status_code, {each["at"] for each in flawed.json()["flaws"]})


async def test_a_third_at_the_same_time_is_told_to_come_again(mill: Mill) -> None:
    """Each takes all cores: two at a time, and whoever comes then learns when to ask again."""
    await measured(mill, {"A": (305,)})
    answers = await asyncio.gather(
        *(mill.client.post("/v1/grades/T-1/revisions/1/impact", json={}) for _ in range(3)),
    )
    refused = [each for each in answers if each.status_code == 503]

    assert [200, 200, 503] == sorted(each.status_code for each in answers)
    assert ("/problems/too-busy", "1") == (refused[0].json()["type"], refused[0].headers["retry-after"])
    assert 1 == (await asked(mill, 1))[-1]["judged"]


async def test_workers_of_another_release_are_told_of(mill: Mill, monkeypatch: pytest.MonkeyPatch) -> None:
    """A cluster may run an older one; by other rules it could find changes that the draft does not make."""
    await measured(mill, {"A0": (320, 330)})
    draft = await drafted(mill, AT_310)
    monkeypatch.setattr(impact, "ENGINE", "0")
    last = (await asked(mill, draft))[-1]

    assert ("summary", 0, "not-ready") == (last["kind"], last["judged"], last["error"]["code"])
    assert "A worker has engine 1, and this service has engine 0." in last["error"]["text"]
