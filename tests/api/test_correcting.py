"""Correcting lots over HTTP: what the quality manager sends when a verdict rests on a wrong figure."""

from typing import Any

import httpx
import pytest

from tests.support import examples

LOT = "/v1/lots/0412-07"
REASON = "Mistyped: the printout of the tester says 335."


@pytest.fixture
async def lot(released: httpx.AsyncClient) -> httpx.AsyncClient:
    """A service with the example's lot, which has failed by one reading."""
    await released.put(LOT, json={"grade": examples.GRADE, "size": 480})
    force, *others = examples.EVIDENCE["series"]
    series = [{**force, "values": [*force["values"][:-1], 33.5]}, *others]
    assert 201 == (await released.post(f"{LOT}/readings", json={"batch": "B", "series": series})).status_code
    assert "fail" == (await released.post(f"{LOT}/close", json={})).json()["verdict"]["outcome"]
    return released


def correction(**members: Any) -> dict[str, Any]:
    """The last reading struck, and the right one in its place."""
    force = examples.EVIDENCE["series"][0]
    series = [{**force, "packages": [force["packages"][-1]], "values": [335]}]
    return {"id": "C-1", "reason": REASON, "strikes": [{"of": "B", "at": ["/series/0/values/5"]}], "series": series, **members}


async def test_a_correction_is_answered_by_its_verdict(lot: httpx.AsyncClient) -> None:
    """201 with where it is, then 200 with the same bytes; closing again shows the newest too."""
    first = await lot.post(f"{LOT}/corrections", json=correction())
    again = await lot.post(f"{LOT}/corrections", json=correction())
    shown, closed = await lot.get(first.headers["location"]), await lot.post(f"{LOT}/close", json={})

    assert (201, 200, 200, 200) == tuple(each.status_code for each in (first, again, shown, closed))
    assert f"{LOT}/verdicts/2" == first.headers["location"]
    assert first.content == again.content == shown.content == closed.content
    told = first.json()
    assert (2, "closed", REASON, "pass") == (
        *(told[name] for name in ("number", "state", "reason")),
        told["verdict"]["outcome"],
    )
    assert "fail" == (await lot.get(f"{LOT}/verdicts/1")).json()["verdict"]["outcome"]


async def test_a_corrected_lot_is_shown_by_its_newest_verdict(lot: httpx.AsyncClient) -> None:
    """With how many there are, and with what was struck."""
    await lot.post(f"{LOT}/corrections", json=correction())
    shown = (await lot.get(LOT)).json()
    listed = (await lot.get(f"{LOT}/verdicts")).json()["verdicts"]

    assert ("closed", "pass", 2) == (shown["state"], shown["outcome"], shown["verdicts"])
    assert {"characteristic": "breaking_force", "readings": 7, "struck": 1} in shown["readings"]
    assert [(1, "fail", None), (2, "pass", REASON)] == [
        (each["number"], each["outcome"], each.get("reason")) for each in listed
    ]


async def test_a_correction_can_be_read_again(lot: httpx.AsyncClient) -> None:
    """As it was sent, by its id."""
    await lot.post(f"{LOT}/corrections", json=correction())
    shown = (await lot.get(f"{LOT}/batches/C-1")).json()

    assert ("correction", correction()) == (shown["kind"], shown["document"])


@pytest.mark.parametrize(
    ("path", "body", "status", "kind"),
    [
        ("/v1/lots/nowhere", correction(), 404, "not-found"),
        ("/v1/lots/nowhere", {"id": "C-1"}, 404, "not-found"),
        ("/v1/lots/open", correction(), 409, "conflict"),
        (LOT, {"id": "C-1", "series": []}, 422, "flawed"),
        (LOT, correction(strikes=[]), 422, "flawed"),
        (LOT, correction(strikes=[{"of": "X", "at": ["/counts/0"]}]), 422, "flawed"),
        (LOT, correction(id="B"), 409, "content-differs"),
    ],
)
async def test_what_can_not_be_corrected_is_refused(
    lot: httpx.AsyncClient, path: str, body: dict[str, Any], status: int, kind: str
) -> None:
    """Each by the kind of problem that it is, and the lot stays as it was."""
    await lot.put("/v1/lots/open", json={"grade": examples.GRADE})
    answer = await lot.post(f"{path}/corrections", json=body)

    assert (status, f"/problems/{kind}") == (answer.status_code, answer.json()["type"])
    assert 1 == (await lot.get(LOT)).json()["verdicts"]
