"""The conformance stories: what is told of a lot in turn, and what has to come back each time; all figures by hand."""

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from tests.contract.cases import Document, on, readings, specification

GRADE, LOWER_GRADE = "VECTORS-2", "VECTORS-3"
FORCES = [{"name": "breaking_force", "unit": "N", "sample": {"plan": "fixed", "packages": 3}}]
STORY_GRADES: dict[str, Document] = {
    GRADE: specification(on("each", limits={"lower": 1120}), on("mean", limits={"lower": 1400}), characteristics=FORCES),
    LOWER_GRADE: specification(on("each", limits={"lower": 1000}), on("mean", limits={"lower": 1300}), characteristics=FORCES),
}
ONE_MORE = [{"characteristic": "breaking_force", "packages": 1, "readings": 1}]


class Step(NamedTuple):
    """One request below the lot's path, and what has to be in the answer."""

    method: str
    path: str
    body: Document | None
    status: int
    answer: Document


class StoryCase(NamedTuple):
    """What becomes of one lot."""

    name: str
    says: str
    steps: Sequence[Step]


def opened() -> Step:
    """The lot, by the grade of the stories."""
    told = {"lot": "{lot}", "grade": GRADE, "state": "open"}
    return Step("PUT", "", {"grade": GRADE, "size": 480}, 201, told)


def measured(batch: str, *values: float, status: int = 201, **answer: Any) -> Step:
    """Readings of the breaking force."""
    body = {"batch": batch, "series": [readings(*values)]}
    return Step("POST", "/readings", body, status, {"counted": {"readings": len(values)}, **answer})


def standing(requirement: str, outcome: str, missing: Sequence[Mapping[str, object]] = ()) -> Document:
    """Where a requirement stands."""
    return {"requirement": requirement, "outcome": outcome} | ({"missing": list(missing)} if missing else {})


def recorded(number: int, state: str, verdict: Document) -> Document:
    """A verdict as it is kept."""
    return {"lot": "{lot}", "number": number, "state": state, "verdict": {"grade": GRADE, "lot": "{lot}", **verdict}}


def finding(requirement: str, outcome: str, value: float, margin: float) -> Document:
    """A finding with its figures."""
    return {"requirement": requirement, "outcome": outcome, "measured": {"value": value}, "margin": margin}


def replayed(number: int, outcome: str) -> Step:
    """A verdict judged again, which comes out as it did."""
    told = {"agrees": True, "differences": [], "verdict": {"outcome": outcome}}
    return Step("POST", f"/verdicts/{number}/replay", {}, 200, told)


def disposed(key: str, disposition: str, status: int, grade: str = "", **answer: Any) -> Step:
    """What is to be done with the lot."""
    body = {"id": key, "disposition": disposition, "reason": "By the quality manager."} | ({"grade": grade} if grade else {})
    return Step("POST", "/dispositions", body, status, answer)


def closed(state: str, verdict: Document, *, number: int = 1, status: int = 201) -> Step:
    """The lot closed."""
    return Step("POST", "/close", {}, status, recorded(number, state, verdict))


WAITING = {"outcome": "undecided", "findings": [standing("r1", "undecided", ONE_MORE), standing("r2", "undecided", ONE_MORE)]}
# The mean of 1500, 1450 and 1300 is 4250/3 = 1416 2/3, so 16 2/3 above 1400; the least of them is 180 above 1120.
PASSED = {
    "outcome": "pass",
    "findings": [finding("r1", "pass", 1300, 180), finding("r2", "pass", 1416.6666666666667, 16.666666666666668)],
}
# After the correction the mean of 1450, 1300 and 1400 is 4150/3 = 1383 1/3, so 16 2/3 below 1400.
FAILED = {
    "outcome": "fail",
    "findings": [finding("r1", "pass", 1300, 180), finding("r2", "fail", 1383.3333333333333, -16.666666666666668)],
}
CORRECTION = Step(
    "POST",
    "/corrections",
    {
        "id": "k1",
        "reason": "The first ball was of another lot.",
        "strikes": [{"of": "b1", "at": ["/series/0/values/0"]}],
        "series": [readings(1400)],
    },
    201,
    recorded(2, "closed", FAILED),
)
# The mean of 1350, 1390 and 1100 is 1280, so 120 below 1400.
CLAIM = Step(
    "PUT",
    "/claims/c1",
    {
        "from": "Buyer",
        "received_on": "2027-06-01",
        "requirements": ["r2"],
        "evidence": {"lot": {"id": "{lot}"}, "series": [readings(1350, 1390, 1100)]},
    },
    201,
    {
        "claim": {"claim": "c1", "verdict": 1, "is_of_earlier_verdict": False},
        "ours": {"outcome": "pass"},
        "theirs": {"outcome": "fail"},
        "compared": [
            {
                "requirement": "r2",
                "ours": {"outcome": "pass", "margin": 16.666666666666668},
                "theirs": {"outcome": "fail", "margin": -120},
            }
        ],
        "replay": {"agrees": True, "differences": []},
    },
)
SETTLEMENT: Document = {"settlement": "shared", "reason": "Half of the price is credited."}
STORIES = [
    StoryCase(
        "a-lot-that-waits",
        "A batch counts once however often it is sent; a lot closed too early waits for its last reading.",
        [
            opened(),
            measured("b1", 1500, 1450, state="open", requirements=WAITING["findings"]),
            measured("b1", 1500, 1450, status=200),
            Step(
                "POST",
                "/readings",
                {"batch": "b1", "series": [readings(1500, 1460)]},
                409,
                {"type": "/problems/content-differs", "flaws": [{"at": "/series/0/values/1", "code": "differs"}]},
            ),
            closed("waiting", WAITING),
            closed("waiting", WAITING, status=200),
            measured("b2", 1300, state="closed", verdict=2, requirements=[standing("r1", "pass"), standing("r2", "pass")]),
            Step("GET", "/verdicts/2", None, 200, recorded(2, "closed", PASSED)),
            Step("GET", "/verdicts/1", None, 200, recorded(1, "waiting", WAITING)),
            closed("closed", PASSED, number=2, status=200),
        ],
    ),
    StoryCase(
        "a-reading-that-is-struck-out",
        "A slip is struck, not erased; it no longer counts, so that one more is needed.",
        [
            opened(),
            measured("b1", 1500, 15, 1450),
            Step(
                "POST",
                "/strikes",
                {"id": "s1", "of": "b1", "at": ["/series/0/values/1"], "reason": "The decimal point slipped."},
                201,
                {"requirements": WAITING["findings"]},
            ),
            measured("b2", 1460),
            # (1500 + 1450 + 1460)/3 = 1470.
            closed(
                "closed",
                {"outcome": "pass", "findings": [finding("r1", "pass", 1450, 330), finding("r2", "pass", 1470, 70)]},
            ),
            Step("GET", "", None, 200, {"readings": [{"characteristic": "breaking_force", "readings": 4, "struck": 1}]}),
        ],
    ),
    StoryCase(
        "a-correction-that-fails-the-lot",
        "A correction records another verdict and erases none; both can be judged again, and agree.",
        [
            opened(),
            measured("b1", 1500, 1450, 1300),
            closed("closed", PASSED),
            CORRECTION,
            CORRECTION._replace(status=200),
            Step("GET", "/verdicts/1", None, 200, recorded(1, "closed", PASSED)),
            replayed(1, "pass"),
            replayed(2, "fail"),
            Step("GET", "", None, 200, {"state": "closed", "outcome": "fail", "verdicts": 2}),
        ],
    ),
    StoryCase(
        "a-lot-that-goes-out-as-another-grade",
        "A lot that fails is not released without a concession; it goes out as a grade that its evidence meets.",
        [
            opened(),
            # The mean of 1100, 1500 and 1450 is 1350: 50 below 1400, and above 1300; 1100 is 20 below 1120, and above 1000.
            measured("b1", 1100, 1500, 1450),
            closed(
                "closed",
                {"outcome": "fail", "findings": [finding("r1", "fail", 1100, -20), finding("r2", "fail", 1350, -50)]},
            ),
            disposed("d1", "release", 409, type="/problems/concession-needed"),
            disposed("d1", "hold", 201, number=1, verdict=1, is_of_earlier_verdict=False),
            disposed("d1", "hold", 200, number=1),
            disposed("d1", "scrap", 409, type="/problems/content-differs"),
            disposed("d2", "regrade", 409, "VECTORS-1", type="/problems/concession-needed"),
            disposed("d2", "regrade", 201, LOWER_GRADE, number=2, revision=1),
            Step("GET", "", None, 200, {"grade": GRADE, "outcome": "fail", "disposition": "regrade"}),
        ],
    ),
    StoryCase(
        "a-claim-on-a-lot",
        "The other side's evidence is judged by the revision of the verdict, which stays as it was and is judged again.",
        [
            opened(),
            measured("b1", 1500, 1450, 1300),
            closed("closed", PASSED),
            CLAIM,
            CLAIM._replace(status=200),
            Step("POST", "/claims/c1/settle", SETTLEMENT, 201, {"claim": "c1", "settled": SETTLEMENT}),
            Step("POST", "/claims/c1/settle", SETTLEMENT | {"settlement": "refused"}, 409, {"type": "/problems/conflict"}),
            Step("GET", "/verdicts/1", None, 200, recorded(1, "closed", PASSED)),
        ],
    ),
]
