"""Opening a lot once more: the same is answered the same, and something else is told apart in what the caller sent."""

from typing import Any

import httpx
import pytest

from tests.support import examples

LOT = "/v1/lots/0412-07"
OPENING: dict[str, Any] = {"grade": examples.GRADE, "size": 480}


@pytest.mark.parametrize(
    ("first", "again", "flaws"),
    [
        ({}, {"size": 500}, [("/size", "This was `480` before, and is `500` now.")]),
        ({}, {"line": "2"}, [("/line", 'This was left out before, and is `"2"` now.')]),
        ({}, {"revision": 1}, [("/revision", "This was left out before, and is `1` now.")]),
        ({"revision": 1}, {}, [("/revision", "This was `1` before, and is left out now.")]),
        ({"revision": 1}, {"size": 500}, [("/size", "This was `480` before, and is `500` now.")]),
    ],
)
async def test_a_lot_that_is_opened_otherwise_is_refused_by_what_was_sent(
    released: httpx.AsyncClient, first: dict[str, Any], again: dict[str, Any], flaws: list[tuple[str, str]]
) -> None:
    """The lot is named, and nothing that neither of the two has sent: the revision in force is filled in by the service."""
    opened = await released.put(LOT, json={**OPENING, **first})
    refused = await released.put(LOT, json={**OPENING, **again})
    problem = refused.json()

    assert (201, 409, "/problems/content-differs") == (opened.status_code, refused.status_code, problem["type"])
    assert flaws == [(flaw["at"], flaw["text"]) for flaw in problem["flaws"]]
    text = "Lot 0412-07 was already opened, with other content. Send the same content again, or open another lot."
    assert text == problem["detail"]


async def test_a_lot_that_is_opened_again_by_the_same_body_is_answered_the_same(released: httpx.AsyncClient) -> None:
    """A station that lost the answer sends it once more."""
    opened = await released.put(LOT, json=OPENING)
    again = await released.put(LOT, json=OPENING)

    assert (201, 200) == (opened.status_code, again.status_code)
    assert opened.json() == again.json()
