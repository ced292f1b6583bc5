"""Runs the conformance vectors against a service: `python run.py http://127.0.0.1:8000`. Python 3.11, nothing to install.

Each vector is a request and what has to be in the answer. An object in the answer may hold more members than the vector names;
lists have to be of the same length; numbers are compared as numbers. A story is several in turn about one lot, whose id,
`{lot}`, is made up anew each time. The service gets the grades that are needed, unless it has them already. Where it asks for
a key, SERVICE_KEY gives one that may do everything. Exit status: 0 if all hold, 1 if not.
"""

import argparse
import json
import os
import secrets
import sys
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent
FILES = ("verdicts.json", "checks.json", "flaws.json", "standards.json")
STORIES = "stories.json"
KEY = os.environ.get("SERVICE_KEY")


def main(service: str) -> int:
    """Run all of them and say which do not hold."""
    publish(service)
    failed = 0
    vectors = [vector for name in FILES for vector in read(name)["vectors"]] + read(STORIES)["stories"]
    for vector in vectors:
        found = list(differences_in_story(service, vector) if "steps" in vector else differences_of(service, vector))
        failed += bool(found)
        for line in found:
            print(f"{vector['name']}: {line}")
    print(f"{len(vectors) - failed} passed, {failed} failed")
    return 1 if failed else 0


def read(name: str) -> Any:
    """One of the files beside this one."""
    return json.loads((HERE / name).read_text(encoding="utf-8"))


def publish(service: str) -> None:
    """Bring the grade in and release it, unless one is in force."""
    for grade, specification in read("grades.json").items():
        path = f"/v1/grades/{grade}"
        if ask(service, "GET", f"{path}/in-force", None)[0] != 200:
            draft = asked(service, f"{path}/revisions", specification)
            asked(service, f"{path}/revisions/{draft['revision']}/release", {})


def asked(service: str, path: str, body: Any) -> Any:
    """The document that answers; ends the program with the reason where the request is refused."""
    status, document = ask(service, "POST", path, body)
    if status >= 400:
        sys.exit(f"The grade of the vectors can't be brought in: POST {path} was answered {status}: {document['detail']}")
    return document


def differences_in_story(service: str, story: dict[str, Any]) -> Iterator[str]:
    """What is not as it has to be up to the first step that has such a thing; those after it would only follow from it."""
    lot = f"STORY-{secrets.token_hex(8)}"
    for number, step in enumerate(json.loads(json.dumps(story["steps"]).replace("{lot}", lot)), 1):
        found = [f"step {number}: {line}" for line in differences_of(service, step)]
        yield from found
        if found:
            return


def differences_of(service: str, vector: dict[str, Any]) -> Iterator[str]:
    """What in the answer is not as it has to be."""
    request, answer = vector["request"], vector["answer"]
    status, body = ask(service, request["method"], request["path"], request["body"])
    if status != answer["status"]:
        yield f"status {status} instead of {answer['status']}"
    yield from differences(answer["body"], body, "")


def differences(wanted: Any, found: Any, at: str) -> Iterator[str]:
    """Where the answer differs from what it has to hold."""
    if isinstance(wanted, dict) and isinstance(found, dict):
        for name, member in wanted.items():
            if name in found:
                yield from differences(member, found[name], f"{at}/{name}")
            else:
                yield f"{at}/{name} is missing"
    elif isinstance(wanted, list) and isinstance(found, list) and len(wanted) == len(found):
        for number, (one, other) in enumerate(zip(wanted, found, strict=True)):
            yield from differences(one, other, f"{at}/{number}")
    elif wanted != found or isinstance(wanted, bool) != isinstance(found, bool):
        yield f"{at} is {json.dumps(found)[:200]} instead of {json.dumps(wanted)[:200]}"


def ask(service: str, method: str, path: str, body: Any) -> tuple[int, Any]:
    """Status and document of an answer."""
    data = None if body is None else json.dumps(body).encode()
    headers = {"Content-Type": "application/json"} | ({"Authorization": f"Bearer {KEY}"} if KEY else {})
    request = urllib.request.Request(service.rstrip("/") + path, data, headers, method=method)
    try:
        with urllib.request.urlopen(request, timeout=30) as answer:
            return answer.status, json.load(answer)
    except urllib.error.HTTPError as refusal:
        return refusal.code, json.load(refusal)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("service", help="its address, as in http://127.0.0.1:8000")
    address = parser.parse_args().service
    try:
        sys.exit(main(address))
    except (urllib.error.URLError, ValueError) as error:
        sys.exit(f"{address} does not answer as the service does ({error}). Give the address that `markeryarn serve` prints.")
