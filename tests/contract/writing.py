"""Writes the conformance vectors: `python -m tests.contract.writing` from the top of the repository.

What has to come back is worked out by the slow judge and by hand, never by the engine; a test compares the committed files with
what this gives, and the running service with the files.
"""

import json
from collections.abc import Sequence
from pathlib import Path

from service.engine import ENGINE
from service.engine.documents import canonical, digest_of
from tests.contract.cases import CheckCase, Document, FlawCase, HandCase, LotCase
from tests.contract.check_cases import CHECKS, FLAWS, GRADES
from tests.contract.lot_cases import all_lot_cases
from tests.contract.standard_cases import all_standard_cases
from tests.contract.story_cases import STORIES, STORY_GRADES, StoryCase
from tests.support.simple_judge import Simple, judge_simply, verdict_simply

FOLDER = Path(__file__).parents[2] / "openapi" / "vectors"
FROZEN = Path(__file__).with_name("frozen.json")
SYMBOLS = {"[lbf_av]": "lbf", "C78": "lbf"}
"""The slow judge knows units by their symbols alone."""


def files() -> dict[str, str]:
    """The text of each file by its name."""
    vectors = {
        "verdicts.json": [of_lot(case) for case in all_lot_cases()],
        "checks.json": [of_check(case) for case in CHECKS],
        "flaws.json": [of_flaws(case) for case in FLAWS],
        "standards.json": [of_standard(case) for case in all_standard_cases()],
    }
    documents: dict[str, Document] = {name: {"engine": ENGINE, "vectors": each} for name, each in vectors.items()}
    documents["stories.json"] = {"engine": ENGINE, "stories": [of_story(case) for case in STORIES]}
    documents["grades.json"] = GRADES | STORY_GRADES
    return {name: json.dumps(document, indent=1) + "\n" for name, document in documents.items()}


def frozen() -> dict[str, dict[str, str]]:
    """The digest of each vector by number of the rules and name: what stands there already stays, new ones are added."""
    kept: dict[str, dict[str, str]] = json.loads(FROZEN.read_text(encoding="utf-8")) if FROZEN.exists() else {}
    return kept | {ENGINE: digests() | kept.get(ENGINE, {})}


def digests() -> dict[str, str]:
    """The digest of each vector by its name; what it says to people may be reworded."""
    documents = [json.loads(text) for text in files().values()]
    vectors = [vector for document in documents for vector in document.get("vectors", [])]
    stories = [story for document in documents for story in document.get("stories", [])]
    promised = {vector["name"]: [vector["request"], vector["answer"]] for vector in vectors}
    promised |= {story["name"]: story["steps"] for story in stories}
    return {name: digest_of(canonical(each)) for name, each in promised.items()}


def of_lot(case: LotCase) -> Document:
    """A verdict on a lot by a specification that comes along."""
    evidence = case.evidence | {
        "series": [each | {"unit": SYMBOLS.get(each["unit"], each["unit"])} for each in case.evidence.get("series", [])]
    }
    found = judge_simply(case.specification, evidence)
    findings = [finding(name, simple, case.codes[name]) for name, simple in found.items()]
    body = {"against": {"specification": case.specification}, "evidence": case.evidence}
    outcome = verdict_simply(case.specification, found)
    return vector(case.name, case.says, "/v1/verdicts", body, 200, {"engine": ENGINE, "outcome": outcome, "findings": findings})


def finding(requirement: str, simple: Simple, codes: Sequence[str]) -> Document:
    """What has to be in a finding; the answer may hold more members than it names."""
    found: Document = {
        "requirement": requirement,
        "outcome": simple.outcome,
        "reasons": [{"code": code} for code in codes],
    }
    if simple.margin is not None:
        found["margin"] = simple.margin
    if len(simple.measured) == 1:
        value, observed = simple.measured[0]
        found["measured"] = {"value": value} | ({} if observed is None else {"observed": observed})
    if simple.missing:
        found["missing"] = [dict(zip(("characteristic", "packages", "readings"), each, strict=True)) for each in simple.missing]
    return found


def of_check(case: CheckCase) -> Document:
    """A reading checked."""
    return vector(case.name, case.says, "/v1/checks", case.check, 200, {"engine": ENGINE, **case.answer})


def of_standard(case: HandCase) -> Document:
    """An answer that a standard, a law or a ruling gives."""
    return vector(case.name, case.says, case.path, case.body, 200, {"engine": ENGINE, **case.answer})


def of_flaws(case: FlawCase) -> Document:
    """A request refused."""
    flaws = [{"at": at, "code": code} for at, code in case.flaws]
    return vector(case.name, case.says, case.path, case.body, 422, {"status": 422, "flaws": flaws})


def of_story(case: StoryCase) -> Document:
    """What is told of one lot from its opening on."""
    steps = [
        {
            "request": {"method": step.method, "path": f"/v1/lots/{{lot}}{step.path}", "body": step.body},
            "answer": {"status": step.status, "body": step.answer},
        }
        for step in case.steps
    ]
    return {"name": case.name, "says": case.says, "steps": steps}


def vector(name: str, says: str, path: str, body: Document, status: int, answer: Document) -> Document:
    """One vector."""
    request = {"method": "POST", "path": path, "body": body}
    return {"name": name, "says": says, "request": request, "answer": {"status": status, "body": answer}}


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    for file, text in files().items():
        (FOLDER / file).write_text(text, encoding="utf-8")
    FROZEN.write_text(json.dumps(frozen(), indent=1) + "\n", encoding="utf-8")
