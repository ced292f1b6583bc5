"""Answers without their words: what a program goes by, of all vectors and the examples of the document.

`python -m tests.contract.wordless` writes a digest of each to `wordless.json`. A sentence may be reworded without it; all else
that moves is seen there.
"""

import json
import tempfile
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, NamedTuple

from service.engine.documents import canonical, digest_of
from tests.contract.writing import FOLDER
from tests.support.pages import TOP
from tests.support.within import Within, service_within

WORDLESS = Path(__file__).with_name("wordless.json")
WORDS = {"text", "detail", "title", "instance"}
"""Members that people read, and the request's own id."""
FILES = ("verdicts", "checks", "flaws", "standards")
JUDGING = ("checkReading", "judgeLot", "drawLot", "gradeLot", "reviewSpecification", "showSamplingPlan")
JSON_TYPE = {"Content-Type": "application/json"}


class Asked(NamedTuple):
    """A request by the name of its vector or its example."""

    name: str
    path: str
    body: Any


def asked() -> Iterator[Asked]:
    """All that store nothing."""
    for file in FILES:
        for vector in json.loads((FOLDER / f"{file}.json").read_text(encoding="utf-8"))["vectors"]:
            yield Asked(vector["name"], vector["request"]["path"], vector["request"]["body"])
    document = json.loads((TOP / "openapi" / "openapi.json").read_text(encoding="utf-8"))
    for path, methods in document["paths"].items():
        for operation in methods.values():
            if operation["operationId"] in JUDGING:
                shown = operation["requestBody"]["content"]["application/json"]["examples"]
                yield from (
                    Asked(f"example-{operation['operationId']}-{name}", path, each["value"]) for name, each in shown.items()
                )


def without_words(node: Any) -> Any:
    """The document but for what people read."""
    if isinstance(node, dict):
        return {name: without_words(each) for name, each in node.items() if name not in WORDS}
    return [without_words(each) for each in node] if isinstance(node, list) else node


def wordless(service: Within) -> Mapping[str, str]:
    """By name, the digest of status and answer."""
    return {each.name: _digest(service, each) for each in asked()}


def _digest(service: Within, request: Asked) -> str:
    answer = service.ask("POST", request.path, json.dumps(request.body), JSON_TYPE)
    return digest_of(canonical([answer.status_code, without_words(answer.json())]))


def bring_grades(service: Within) -> None:
    """The grades of the vectors and of the examples, released."""
    grades = json.loads((FOLDER / "grades.json").read_text(encoding="utf-8"))
    example = json.loads((TOP / "openapi" / "examples" / "specification.json").read_text(encoding="utf-8"))
    for grade, specification in {**grades, "TB-130": example}.items():
        path = f"/v1/grades/{grade}/revisions"
        assert service.ask("POST", path, json.dumps(specification), JSON_TYPE).is_success
        assert service.ask("POST", f"{path}/1/release", "{}", JSON_TYPE).is_success


def written(digests: Mapping[str, str]) -> str:
    """As the file has it."""
    return json.dumps(digests, indent=1) + "\n"


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{folder}/grades.db"
        with service_within(url) as service:
            bring_grades(service)
            WORDLESS.write_text(written(wordless(service)), encoding="utf-8")
