"""`openapi/examples`: one invented grade in files, guide, demo and OpenAPI document, whose examples a service answers."""

import json
import re
from collections.abc import Iterator
from typing import Any

import pytest

from service.cli.demo import DEMONSTRATION
from tests.support import examples
from tests.support.pages import TOP, blocks
from tests.support.services import Answered, ask, released, service_in

FOLDER = TOP / "openapi" / "examples"
DOCUMENT: dict[str, Any] = json.loads((TOP / "openapi" / "openapi.json").read_text(encoding="utf-8"))
OPERATIONS = {
    operation["operationId"]: (method.upper(), path, operation)
    for path, methods in DOCUMENT["paths"].items()
    for method, operation in methods.items()
}
"""By name: (method, path, what the document says of it)."""
JUDGING = ("reviewSpecification", "checkReading", "judgeLot", "drawLot", "gradeLot", "showSamplingPlan")
ON_THE_LOT = [
    "openLot",
    "recordReadings",
    "addAttributes",
    "strike",
    "listLots",
    "showLot",
    "listLotChanges",
    "showEvidence",
    "showBatch",
    "closeLot",
    "correctLot",
    "listVerdicts",
    "showVerdict",
    "showJudgedEvidence",
    "replayVerdict",
    "grantConcession",
    "listConcessions",
    "showConcession",
    "disposeOfLot",
    "listDispositions",
    "makeClaim",
    "listClaims",
    "listAllClaims",
    "showClaim",
    "showClaimEvidence",
    "settleClaim",
    "showTrend",
    "showTrendChart",
]
ON_A_DRAFT = [
    "addDraft",
    "replaceSpecification",
    "showSpecification",
    "showChanges",
    "showImpact",
    "showRevision",
    "releaseRevision",
]
ON_THE_GRADE = [
    "listGrades",
    "showGrade",
    "showInForce",
    "withdrawRevision",
    "putInstrument",
    "listInstruments",
    "showInstrument",
]
LATER = "from-a-moment"
"""An example with a moment that must not have come yet, so that its answer goes by the day on which one asks."""


def in_file(name: str) -> Any:
    """The document in one of the files."""
    return json.loads((FOLDER / name).read_text(encoding="utf-8"))


def in_guide(file: str) -> Any:
    """The document that the guide writes into a file."""
    guide = "".join(block.text for block in blocks(TOP / "openapi" / "GUIDE.md"))
    (found,) = re.findall(rf"^cat > {re.escape(file)} <<'END'\n(.*?)^END$", guide, re.MULTILINE | re.DOTALL)
    return json.loads(found)


def test_the_specification_is_that_of_guide_demo_and_document() -> None:
    """Who goes from one to the other meets no second TB-130."""
    specification = in_file("specification.json")

    assert in_guide("twine.json") == specification
    assert json.loads((DEMONSTRATION / "grades" / "TB-130.json").read_text(encoding="utf-8")) == specification
    assert examples.SPECIFICATION == specification


def test_the_lot_is_that_of_guide_demo_and_document() -> None:
    """The guide stops a package short of it, to show what is missing."""
    lot, guide = in_file("lot.json"), in_guide("lot.json")["evidence"]
    whole, part = ({each["characteristic"]: each for each in evidence["series"]} for evidence in (lot, guide))

    assert json.loads((DEMONSTRATION / "lots" / "0412-07.json").read_text(encoding="utf-8"))["evidence"] == lot
    assert examples.EVIDENCE == lot
    assert guide["lot"] == lot["lot"]
    assert part["runnage"] == whole["runnage"]
    for column in ("packages", "values"):
        assert part["breaking_force"][column] == whole["breaking_force"][column][:4]


def test_what_a_station_sends_is_that_of_guide_and_document() -> None:
    """The check is the guide's first one."""
    guide = (TOP / "openapi" / "GUIDE.md").read_text(encoding="utf-8")

    assert examples.CHECK == in_file("check.json")
    assert json.loads((DEMONSTRATION / "checks.json").read_text(encoding="utf-8"))[0] == in_file("check.json")
    assert f"-d '{(FOLDER / 'check.json').read_text(encoding='utf-8').strip()}'" in guide
    assert examples.OPENING == in_file("opening.json")
    assert examples.READINGS == in_file("readings.json")


def test_the_digest_in_the_document_is_that_of_the_specification(after_the_readme: str) -> None:
    """`If-Match` as it is filled in on the page at `/docs` names the revision that the README's reader has released."""
    digest = ask(after_the_readme, "GET", "/v1/grades/TB-130/revisions/1").document["specification"]

    assert f'"{digest}"' == DOCUMENT["components"]["headers"]["ETag"]["example"]


@pytest.fixture(scope="module")
def after_the_readme(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The address of a service to which the README's grade and lot were brought."""
    with service_in(tmp_path_factory.mktemp("service")) as address:
        assert 1 == released(address, "TB-130", in_file("specification.json"))
        assert 201 == ask(address, "PUT", "/v1/lots/0412-07", in_file("opening.json")).status
        assert 201 == ask(address, "POST", "/v1/lots/0412-07/readings", in_file("readings.json")).status
        yield address


def tried(address: str, name: str, **places: str) -> Iterator[tuple[str, Answered]]:
    """Each example of an operation by its name, with the answer that "Try it out" gets; `places` as a reader fills them in."""
    method, path, operation = OPERATIONS[name]
    asked = operation.get("parameters", [])
    named = {each["name"]: str(each["example"]) for each in asked if each.get("in") == "path"} | places
    headers = {"If-Match": "*"} if any(each.get("$ref", "").endswith("/If-Match") for each in asked) else {}
    content = operation.get("requestBody", {}).get("content", {}).get("application/json", {"examples": {"": {"value": None}}})
    for shown, example in content["examples"].items():
        if shown != LATER:
            yield f"{name} {shown}", ask(address, method, path.format(**named), example["value"], headers)


@pytest.mark.parametrize("name", JUDGING)
def test_what_judges_answers_each_example_as_it_is_shown(after_the_readme: str, name: str) -> None:
    """Who tries an operation out on the page at `/docs` sees the answer that stands beside it."""
    shown = OPERATIONS[name][2]["responses"]["200"]["content"]["application/json"]["examples"]
    came = {each.removeprefix(f"{name} "): answer.document for each, answer in tried(after_the_readme, name)}

    assert {each: example["value"] for each, example in shown.items()} == came


def test_all_that_is_done_with_the_grade_and_its_lot_can_be_tried_out(after_the_readme: str) -> None:
    """In an order in which it makes sense; what is asked of a draft goes to revision 2.

    A regrade takes a lighter grade and a lot with all its readings: the lot of the README's reader lacks those of two packages.
    """
    assert 1 == released(after_the_readme, "TB-110", in_file("specification.json"))
    force, runnage = in_file("lot.json")["series"]
    others = {"batch": "OTHERS", "series": [{**force, **{name: force[name][2:] for name in ("packages", "values")}}, runnage]}
    assert 201 == ask(after_the_readme, "POST", "/v1/lots/0412-07/readings", others).status
    answers = [
        *(each for name in ON_THE_LOT for each in tried(after_the_readme, name)),
        *(each for name in ON_A_DRAFT for each in tried(after_the_readme, name, revision="2")),
        *(each for name in ON_THE_GRADE for each in tried(after_the_readme, name)),
    ]

    assert [] == [(each, answer.status, answer.body) for each, answer in answers if not 200 <= answer.status < 300]
    assert len(ON_THE_LOT) + len(ON_A_DRAFT) + len(ON_THE_GRADE) <= len(answers)


@pytest.mark.parametrize("operation", ["listCharacteristics", "listFaults", "listUnits"])
def test_what_the_document_shows_of_a_vocabulary_is_in_it(after_the_readme: str, operation: str) -> None:
    """An integrator copies units and names from the document; it shows the first of them."""
    _, path, declared = OPERATIONS[operation]
    (example,) = declared["responses"]["200"]["content"]["application/json"]["examples"].values()
    ((name, shown),) = example["value"].items()
    there = ask(after_the_readme, "GET", path).document[name]

    assert [] == [each for each in shown if each not in there]
    assert shown
