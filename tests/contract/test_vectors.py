"""The conformance vectors: worked out apart from the engine, committed as files, and held by the service."""

import json
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from service.engine import ENGINE
from tests.contract.writing import FOLDER, FROZEN, digests, files

Document = dict[str, Any]
OF_VECTORS = ("verdicts.json", "checks.json", "flaws.json", "standards.json")
STORIES = "stories.json"


def vectors() -> list[Document]:
    """All that are committed, stories among them."""
    stories: list[Document] = read(STORIES)["stories"]
    return [vector for name in OF_VECTORS for vector in read(name)["vectors"]] + stories


def read(name: str) -> Document:
    """One of the files."""
    document: Document = json.loads((FOLDER / name).read_text(encoding="utf-8"))
    return document


def run(folder: Path, service: str) -> subprocess.CompletedProcess[str]:
    """The runner as an integrator starts it, from any folder with the vectors beside it."""
    arguments = [sys.executable, str(folder / "run.py"), service]
    return subprocess.run(arguments, capture_output=True, text=True, check=False, timeout=60)


@pytest.mark.parametrize("name", [*OF_VECTORS, STORIES, "grades.json"])
def test_committed_vectors_are_those_that_the_slow_judge_gives(name: str) -> None:
    """The answers are worked out by other means than the engine's, so that they can prove it wrong."""
    assert files()[name] == (FOLDER / name).read_text(encoding="utf-8")


def test_a_vector_moves_only_with_the_number_of_the_rules() -> None:
    """A verdict can be worked out again by its `engine` number for years. Writing anew heals no vector that moved."""
    assert digests() == json.loads(FROZEN.read_text(encoding="utf-8"))[ENGINE]


def test_there_are_at_least_eighty_and_no_name_stands_twice() -> None:
    """An integrator names the vector that does not hold."""
    names = [vector["name"] for vector in vectors()]

    assert 80 <= len(names)
    assert sorted(set(names)) == sorted(names)


@pytest.mark.parametrize("name", OF_VECTORS)
def test_every_file_says_for_which_rules_it_holds(name: str) -> None:
    """If a vector moves, the number of the rules has to move with it."""
    document = read(name)
    judged = [vector["answer"]["body"] for vector in document["vectors"] if vector["answer"]["status"] == 200]

    assert ENGINE == document["engine"]
    assert {ENGINE} >= {body["engine"] for body in judged}


def test_all_vectors_hold_on_a_running_service(service_on_each: str) -> None:
    """What an integrator runs against any instance holds on either database, and can be run again on the same one."""
    first, second = run(FOLDER, service_on_each), run(FOLDER, service_on_each)

    assert (0, f"{len(vectors())} passed, 0 failed\n") == (first.returncode, first.stdout)
    assert first.stdout == second.stdout


@pytest.mark.parametrize(
    ("file", "at", "other"),
    [
        ("verdicts.json", "/findings/0/margin", 1e-9),
        ("checks.json", "/findings/0/reasons/0/code", "beyond-outer"),
        ("flaws.json", "/flaws/0/at", "/elsewhere"),
    ],
)
def test_an_answer_that_is_not_the_expected_one_is_found(
    service: str, tmp_path: Path, file: str, at: str, other: object
) -> None:
    """A runner that finds nothing proves nothing."""
    for name in ("run.py", "grades.json", STORIES, *OF_VECTORS):
        shutil.copy(FOLDER / name, tmp_path)
    document = json.loads((FOLDER / file).read_text(encoding="utf-8"))
    first = document["vectors"][0]
    put(first["answer"]["body"], at, other)
    (tmp_path / file).write_text(json.dumps(document), encoding="utf-8")

    done = run(tmp_path, service)

    assert 1 == done.returncode
    assert f"{first['name']}: {at} is " in done.stdout
    assert f"{len(vectors()) - 1} passed, 1 failed" in done.stdout


def test_a_step_of_a_story_that_comes_out_otherwise_is_found(service: str, tmp_path: Path) -> None:
    """What follows from it is not told: the first step that went wrong is what an integrator has to look at."""
    for name in ("run.py", "grades.json", STORIES, *OF_VECTORS):
        shutil.copy(FOLDER / name, tmp_path)
    document = read(STORIES)
    first = document["stories"][0]
    for step in first["steps"][4:6]:
        put(step["answer"]["body"], "/number", 9)
    (tmp_path / STORIES).write_text(json.dumps(document), encoding="utf-8")

    done = run(tmp_path, service)

    assert (1, f"{first['name']}: step 5: /number is 1 instead of 9") == (done.returncode, done.stdout.splitlines()[0])
    assert [f"{len(vectors()) - 1} passed, 1 failed"] == done.stdout.splitlines()[1:]


def put(document: Any, at: str, other: object) -> None:
    """Put something else where the pointer points."""
    *steps, last = at.removeprefix("/").split("/")
    for step in steps:
        document = document[int(step) if isinstance(document, list) else step]
    document[last] = other


@pytest.mark.parametrize("service", ["http://127.0.0.1:9", "nonsense"])
def test_the_runner_says_that_nothing_answers_there(service: str) -> None:
    """Whoever has mistyped the address reads a sentence, not the program's lines."""
    done = run(FOLDER, service)

    assert 1 == done.returncode
    assert "Traceback" not in done.stderr
    assert done.stderr.startswith(f"{service} does not answer as the service does (")
    assert done.stderr.endswith("). Give the address that `markeryarn serve` prints.\n")


def test_the_runner_explains_itself() -> None:
    """By the option that every program has."""
    done = run(FOLDER, "--help")

    assert 0 == done.returncode
    assert "Exit status: 0 if all hold, 1 if not." in done.stdout
