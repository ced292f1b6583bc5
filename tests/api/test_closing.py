"""Closing lots over HTTP: what the ERP sends, prints and asks for again."""

import re
from typing import Any

import httpx
import pytest

from tests.support import examples

LOT = "/v1/lots/0412-07"


@pytest.fixture
async def lot(released: httpx.AsyncClient) -> httpx.AsyncClient:
    """A service with the example's lot open, with all the readings of the example but one."""
    assert 201 == (await released.put(LOT, json={"grade": examples.GRADE, "size": 480})).status_code
    force, runnage = examples.EVIDENCE["series"]
    series = [{**force, "packages": force["packages"][:-1], "values": force["values"][:-1]}, runnage]
    assert 201 == (await released.post(f"{LOT}/readings", json={"batch": "B", "series": series})).status_code
    return released


def last(value: float, key: str = "C") -> dict[str, Any]:
    """The reading that the lot still lacks."""
    force = examples.EVIDENCE["series"][0]
    return {"batch": key, "series": [{**force, "packages": ["b3"], "values": [value]}]}


async def closed(client: httpx.AsyncClient, **body: str) -> httpx.Response:
    """The answer to closing the lot."""
    return await client.post(f"{LOT}/close", json=body)


async def test_the_erp_closes_once_and_asks_again(lot: httpx.AsyncClient) -> None:
    """201 with where it is, then 200 with the same bytes, however often."""
    await lot.post(f"{LOT}/readings", json=last(335))
    first = await closed(lot, reason="The shift has ended.")
    again = await closed(lot, reason="Somebody else's reason.")
    shown = await lot.get(first.headers["location"])

    assert (201, 200, 200) == (first.status_code, again.status_code, shown.status_code)
    assert f"{LOT}/verdicts/1" == first.headers["location"]
    assert first.content == again.content == shown.content
    assert "immutable" in shown.headers["cache-control"]
    told = first.json()
    assert ("0412-07", 1, "local", "closed", "The shift has ended.") == tuple(
        told[name] for name in ("lot", "number", "by", "state", "reason")
    )


async def test_the_verdict_is_that_of_judging_without_keeping(lot: httpx.AsyncClient) -> None:
    """Byte for byte: the bytes stand in the answer as `/v1/verdicts` gives them on the evidence that is kept."""
    await lot.post(f"{LOT}/readings", json=last(335))
    known = (await lot.get(f"{LOT}/evidence")).content
    shown = await closed(lot)
    kept = await lot.get(f"{LOT}/verdicts/1/evidence")
    against = b'{"against":{"grade":"TB-130","revision":1},"evidence":' + kept.content + b"}"
    judged = await lot.post("/v1/verdicts", content=against, headers={"content-type": "application/json"})

    assert known == kept.content
    assert shown.content.endswith(b'"verdict":' + judged.content + b"}")


async def test_a_lot_that_waits_is_shown_as_such(lot: httpx.AsyncClient) -> None:
    """What the laboratory sends later is judged as it comes, and the answer names the verdict."""
    waits = (await closed(lot)).json()
    shown = (await lot.get(LOT)).json()
    taken = (await lot.post(f"{LOT}/readings", json=last(335))).json()
    after = (await lot.get(LOT)).json()

    assert ("waiting", "undecided") == (waits["state"], waits["verdict"]["outcome"])
    assert ("waiting", "undecided", 1, False) == (shown["state"], shown["outcome"], shown["verdicts"], "closed_at" in shown)
    assert (2, "closed") == (taken["verdict"], taken["state"])
    assert ("closed", "pass", 2, True) == (after["state"], after["outcome"], after["verdicts"], "closed_at" in after)
    refused = await lot.post(f"{LOT}/readings", json=last(335, "D"))
    assert 409 == refused.status_code
    assert f"`POST {LOT}/corrections`" in refused.json()["detail"]


async def test_verdicts_are_listed_by_pages(lot: httpx.AsyncClient) -> None:
    """Without their documents, which are long."""
    await closed(lot, reason="For the day.")
    await lot.post(f"{LOT}/readings", json=last(200))
    page = (await lot.get(f"{LOT}/verdicts?limit=1")).json()
    rest = (await lot.get(f"{LOT}/verdicts?after={page['next']}")).json()

    assert [(1, "undecided", "waiting", "For the day.")] == [
        (each["number"], each["outcome"], each["state"], each["reason"]) for each in page["verdicts"]
    ]
    assert [(2, "fail", "closed", 1)] == [
        (each["number"], each["outcome"], each["state"], each["revision"]) for each in rest["verdicts"]
    ]
    assert "next" not in rest


async def test_verdicts_that_are_kept_are_counted_by_outcome(lot: httpx.AsyncClient) -> None:
    """Each once: asking again counts nothing."""
    await closed(lot)
    await closed(lot)
    await lot.post(f"{LOT}/readings", json=last(335))
    await lot.post(f"{LOT}/readings", json=last(335))
    figures = (await lot.get("/metrics")).text
    rows = re.findall(r"^markeryarn_judged[a-z_]*\{([^}]*)\} ([0-9.]+)$", figures, re.MULTILINE)
    verdicts = {re.findall(r'outcome="([a-z]+)"', labels)[0]: float(number) for labels, number in rows if "verdicts" in labels}

    assert {"undecided": 1, "pass": 1} == {outcome: number for outcome, number in verdicts.items() if number}


@pytest.mark.parametrize(
    ("method", "path", "status"),
    [
        ("POST", "/v1/lots/nowhere/close", 404),
        ("GET", "/v1/lots/nowhere/verdicts", 404),
        ("GET", f"{LOT}/verdicts/1", 404),
        ("GET", f"{LOT}/verdicts/1/evidence", 404),
        ("GET", f"{LOT}/verdicts/0", 404),
        ("GET", f"{LOT}/verdicts?after=-1", 422),
    ],
)
async def test_what_is_not_there_is_said(lot: httpx.AsyncClient, method: str, path: str, status: int) -> None:
    """An open lot has no verdict, and a lot that is not there none at all."""
    answer = await lot.request(method, path, json={} if method == "POST" else None)

    assert status == answer.status_code
