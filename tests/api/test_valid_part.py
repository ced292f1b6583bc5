"""A document with flaws of shape gets its flaws of meaning told too, and none that it would not have whole."""

import copy
import json
from typing import Any

import httpx
import pytest

from tests.support import examples
from tests.support.problems import problem_of


def changed(document: Any, *changes: tuple[str, object]) -> Any:
    """A copy with members set by JSON Pointer."""
    made = copy.deepcopy(document)
    for at, value in changes:
        *path, last = at.split("/")[1:]
        holder = made
        for step in path:
            holder = holder[int(step) if isinstance(holder, list) else step]
        holder[int(last) if isinstance(holder, list) else last] = value
    return made


@pytest.mark.parametrize(
    ("changes", "flaws"),
    [
        (
            [("/titel", "x"), ("/requirements/1/limits", {"lower": 1400, "upper": 1200}), ("/requirements/0/binding", 1)],
            [
                ("/requirements/0/binding", "wrong-type"),
                ("/requirements/1/limits", "limits-upside-down"),
                ("/titel", "unknown-field"),
            ],
        ),
        (
            [("/requirements/0", {"kind": "guessed"}), ("/requirements/2/id", "strength")],
            [("/requirements/0/kind", "not-known-here"), ("/requirements/2/id", "id-twice")],
        ),
        (
            [("/characteristics/0/unit", 1), ("/requirements/1/of", "knot_force")],
            [("/characteristics/0/unit", "wrong-type")],
        ),
        ([("/requirements/1/limits/lower", "1400")], [("/requirements/1/limits/lower", "wrong-type")]),
        ([("/characteristics/0/name", 7)], [("/characteristics/0/name", "wrong-type")]),
        (
            [("/requirements/0/binding", 1), ("/requirements/1/of", "knot_force"), ("/titel", "x")],
            [
                ("/requirements/0/binding", "wrong-type"),
                ("/requirements/1/of", "unknown-characteristic"),
                ("/titel", "unknown-field"),
            ],
        ),
    ],
)  # fmt: skip
async def test_flaws_of_shape_and_of_meaning_come_together(
    client: httpx.AsyncClient, changes: list[tuple[str, object]], flaws: list[tuple[str, str]]
) -> None:
    """In the order of the document; what may only come from a gap waits until the gap is filled."""
    document = changed(examples.SPECIFICATION, *changes)
    told = problem_of(await client.post("/v1/grades/TB-130/revisions", json=document), 422)["flaws"]
    review = (await client.post("/v1/reviews", json=document)).json()["flaws"]

    assert flaws == [(flaw["at"], flaw["code"]) for flaw in told]
    assert told == review


async def test_pointers_are_into_the_evidence_as_it_was_sent(released: httpx.AsyncClient) -> None:
    """Though the series before it, which has no unit, was left out to judge the rest."""
    series = [{"characteristic": "runnage", "values": [1]}, {"characteristic": "breaking_force", "unit": "lb", "values": [1]}]
    body = changed(examples.BY_GRADE, ("/evidence/series", series))
    told = problem_of(await released.post("/v1/verdicts", json=body), 422)["flaws"]

    places = ["/evidence/series/0/unit", "/evidence/series/1/unit"]
    assert places == [flaw["at"] for flaw in told]


@pytest.mark.parametrize(
    ("change", "flaws"),
    [
        (("/evidence/lot/size", "480"), ["/evidence/lot/size", "/evidence/series/0/characteristic"]),
        # It may be one of the revision that is meant, or of the grade.
        (("/against/revision", "1"), ["/against/revision"]),
        (("/against/specification", 1), ["/against/specification"]),
    ],
)
async def test_an_unknown_characteristic_is_told_where_all_that_says_so_is_there(
    released: httpx.AsyncClient, change: tuple[str, object], flaws: list[str]
) -> None:
    """Whoever misspells two things mends both at once, and is not told of one that another revision may have."""
    series = [{"characteristic": "braking_force", "unit": "N", "values": [1]}]
    body = changed(examples.BY_GRADE, ("/evidence/series", series), change)
    told = problem_of(await released.post("/v1/verdicts", json=body), 422)["flaws"]

    assert flaws == [flaw["at"] for flaw in told]


UNKNOWN = ("unknown-grade", "/against/grade")


@pytest.mark.parametrize(
    ("path", "body", "flaws"),
    [
        (
            "/v1/checks",
            {**examples.CHECK, "grade": "NONE", "value": 1e13},
            [("unknown-grade", "/grade"), ("beyond-range", "/value")],
        ),
        ("/v1/checks", {**examples.CHECK_OF_A_LOT, "value": 1e13}, [("unknown-lot", "/lot"), ("beyond-range", "/value")]),
        (
            "/v1/verdicts",
            changed(examples.BY_GRADE, ("/against/grade", "NONE"), ("/evidence/series/0/values/1", 1e-10)),
            [UNKNOWN, ("beyond-range", "/evidence/series/0/values/1")],
        ),
        (
            "/v1/verdicts",
            changed(
                examples.BY_GRADE, ("/against/grade", "NONE"), ("/evidence/dates", [{"event": "made", "date": "2026-02-30"}])
            ),
            [UNKNOWN, ("no-such-day", "/evidence/dates/0/date")],
        ),
        (
            "/v1/verdicts",
            changed(examples.BY_GRADE, ("/against/grade", "NONE"), ("/evidence/series/0/packages", ["b1"])),
            [UNKNOWN, ("packages-differ-in-number", "/evidence/series/0/packages")],
        ),
        ("/v1/verdicts", changed(examples.BY_GRADE, ("/against/grade", "NONE")), [UNKNOWN]),
    ],
)
async def test_an_unknown_grade_hides_nothing_that_is_wrong_anyway(
    released: httpx.AsyncClient, path: str, body: Any, flaws: list[tuple[str, str]]
) -> None:
    """A station with a mistyped grade and a slipped decimal point is told of both; nothing is said that the grade decides."""
    told = problem_of(await released.post(path, json=body), 422)["flaws"]

    assert flaws == [(flaw["code"], flaw["at"]) for flaw in told]


async def test_nothing_is_kept_of_what_is_left(client: httpx.AsyncClient) -> None:
    """The rest is only looked at."""
    document = json.dumps({**examples.SPECIFICATION, "titel": "x"})
    await client.post("/v1/grades/TB-130/revisions", content=document, headers={"content-type": "application/json"})

    problem_of(await client.get("/v1/grades/TB-130"), 404)


async def test_a_place_that_a_sentence_names_is_one_of_the_document_sent(client: httpx.AsyncClient) -> None:
    """The first of two ids stands where the caller put it, not where it stands without the requirement before it."""
    document = changed(examples.SPECIFICATION, ("/requirements/0", {"kind": "guessed"}), ("/requirements/2/id", "strength"))
    told = problem_of(await client.post("/v1/grades/TB-130/revisions", json=document), 422)["flaws"]

    assert "the id of /requirements/1." in told[1]["text"]


@pytest.mark.parametrize(
    ("age", "at"),
    [
        ({"from": 7, "to": "asked", "limits": {"upper": 365}}, "from"),
        ({"from": "made", "to": "asked", "limits": {"upper": "365", "lower": 2}, "past": "undecided"}, "limits/upper"),
    ],
)
async def test_dates_wait_for_the_age_that_goes_by_them(client: httpx.AsyncClient, age: dict[str, Any], at: str) -> None:
    """An event is not called unknown, nor an upper limit missing, because what names it is to be mended first."""
    requirements = [*examples.SPECIFICATION["requirements"], {"id": "age", "kind": "age", **age}]
    dates = [{"event": "made", "date": "2026-01-10"}, {"event": "asked", "date": "2026-11-25"}]
    body = changed(examples.BY_SPECIFICATION, ("/against/specification/requirements", requirements), ("/evidence/dates", dates))
    told = problem_of(await client.post("/v1/verdicts", json=body), 422)["flaws"]

    assert [(f"/against/specification/requirements/3/{at}", "wrong-type")] == [(flaw["at"], flaw["code"]) for flaw in told]


async def test_a_date_that_stands_twice_is_told_where_both_were_sent(client: httpx.AsyncClient) -> None:
    """Though a date of another shape before them was left out to look at the rest."""
    age = {"id": "age", "kind": "age", "from": "made", "to": "asked", "limits": {"upper": 365}}
    requirements = [*examples.SPECIFICATION["requirements"], age]
    dates = [{"event": "asked", "date": "25.11.2026"}, *[{"event": "made", "date": "2026-01-10"}] * 2]
    body = changed(examples.BY_SPECIFICATION, ("/against/specification/requirements", requirements), ("/evidence/dates", dates))
    told = problem_of(await client.post("/v1/verdicts", json=body), 422)["flaws"]

    assert ["/evidence/dates/0/date", "/evidence/dates/2/event"] == [flaw["at"] for flaw in told]
    assert "`made` is already dated at /dates/1. Remove one of the two." == told[1]["text"]


LOOK = {"id": "look", "kind": "attributes", "class": "major", "faults": ["slub"], "sample": {"plan": "fixed", "packages": 5}}
RETEST = {"sample": {"plan": "fixed", "packages": 5}, "judge": "second"}
COUNTED = {"class": "major", "inspected": 5, "nonconforming": 0}


@pytest.mark.parametrize(
    ("look", "counts", "at"),
    [
        ({**LOOK, "at_most": "1"}, [COUNTED], "/against/specification/requirements/3/at_most"),
        ({**LOOK, "at_most": 1, "class": 7}, [COUNTED], "/against/specification/requirements/3/class"),
        ({**LOOK, "at_most": 1}, [{**COUNTED, "class": 7}], "/evidence/counts/0/class"),
        ({**LOOK, "at_most": 1}, [{**COUNTED, "nonconforming": "0"}], "/evidence/counts/0/nonconforming"),
        ({**LOOK, "at_most": 1}, [{**COUNTED, "inspected": -5}], "/evidence/counts/0/inspected"),
        ({**LOOK, "at_most": 1}, [COUNTED, {**COUNTED, "stage": 3}], "/evidence/counts/1/stage"),
        ({**LOOK, "at_most": 1}, [{**COUNTED, "by_package": [0, 0, "0", 0, 0]}], "/evidence/counts/0/by_package/2"),
        (
            {**LOOK, "at_most": 1, "retest": {**RETEST, "judge": "third"}},
            [{**COUNTED, "nonconforming": 2}, {**COUNTED, "stage": 2}],
            "/against/specification/requirements/3/retest/judge",
        ),
    ],
)
async def test_counts_wait_for_what_they_lack_because_of_a_flaw(
    client: httpx.AsyncClient, look: dict[str, Any], counts: list[dict[str, Any]], at: str
) -> None:
    """A class is not called unknown, nor a count too short, because something in it is to be mended first."""
    requirements = [*examples.SPECIFICATION["requirements"], look]
    changes = (("/against/specification/requirements", requirements), ("/evidence/counts", counts))
    told = problem_of(await client.post("/v1/verdicts", json=changed(examples.BY_SPECIFICATION, *changes)), 422)["flaws"]

    assert [at] == [flaw["at"] for flaw in told]


async def test_a_count_that_stands_twice_is_told_where_both_were_sent(client: httpx.AsyncClient) -> None:
    """Both are faults of the evidence as it was sent, whatever was left out before them."""
    requirements = [*examples.SPECIFICATION["requirements"], {**LOOK, "at_most": 1}]
    changes = (("/against/specification/requirements", requirements), ("/evidence/counts", [COUNTED, COUNTED]))
    told = problem_of(await client.post("/v1/verdicts", json=changed(examples.BY_SPECIFICATION, *changes)), 422)["flaws"]

    assert [("/evidence/counts/1/class", "counted-twice")] == [(flaw["at"], flaw["code"]) for flaw in told]
