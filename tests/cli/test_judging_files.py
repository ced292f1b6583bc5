"""`markeryarn judge` and `markeryarn review`: two files, no server."""

import json
from pathlib import Path

import pytest

from tests.support.commands import SPECIFICATION, forces, on_a_terminal, run, written
from tests.support.services import ask, service_in

TWO_FLAWS = {
    **SPECIFICATION,
    "characteristics": [{"name": "breaking_force", "unit": "kg"}],
    "requirements": [{"id": "strength", "kind": "mean", "of": "breaking_force", "limits": {"lower": 2, "upper": 1}}],
}
VALUE, UNIT = "/series/0/values/0", "/series/0/unit"


@pytest.mark.parametrize(
    ("newtons", "status", "outcome"), [((1400, 1400), 0, "pass"), ((1400, 1399.5), 3, "fail"), ((1500,), 4, "undecided")]
)
def test_a_script_learns_the_outcome_by_the_exit_status(
    tmp_path: Path, newtons: tuple[float, ...], status: int, outcome: str
) -> None:
    """A lot on the limit passes, one below fails, and a sample that is not complete is neither."""
    twine, lot = written(tmp_path, "twine.json", SPECIFICATION), written(tmp_path, "lot.json", forces(*newtons))

    done = run(tmp_path, "judge", twine, lot)

    assert (status, outcome, "") == (done.returncode, json.loads(done.stdout)["outcome"], done.stderr)


def test_the_verdict_is_the_one_that_the_service_gives_byte_for_byte(tmp_path: Path) -> None:
    """What was judged without a server can be compared with what was judged by one."""
    evidence = forces(1391.5, 1402.25)
    twine, lot = written(tmp_path, "twine.json", SPECIFICATION), written(tmp_path, "lot.json", evidence)
    with service_in(tmp_path) as address:
        answer = ask(address, "POST", "/v1/verdicts", {"against": {"specification": SPECIFICATION}, "evidence": evidence})

    assert answer.body.decode() + "\n" == run(tmp_path, "judge", twine, lot).stdout


def test_a_person_at_a_terminal_reads_what_failed_and_why(tmp_path: Path) -> None:
    """The document is for programs."""
    twine, lot = written(tmp_path, "twine.json", SPECIFICATION), written(tmp_path, "lot.json", forces(1390, 1400))

    status, seen = on_a_terminal(tmp_path, "judge", twine, lot)

    assert 3 == status
    assert "FAIL" in seen
    assert "strength" in seen
    assert "The mean breaking force, 1395 N, is 5 N below the lower limit of 1400 N." in seen
    assert "{" not in seen


def test_a_terminal_shows_the_document_where_it_is_asked_for(tmp_path: Path) -> None:
    """To see what a program would get."""
    twine, lot = written(tmp_path, "twine.json", SPECIFICATION), written(tmp_path, "lot.json", forces(1390, 1400))

    status, seen = on_a_terminal(tmp_path, "judge", "--json", twine, lot)

    assert (3, "fail") == (status, json.loads(seen)["outcome"])


def test_every_flaw_of_a_specification_is_said_with_its_file_and_pointer(tmp_path: Path) -> None:
    """Whoever writes a grade mends all of them at once."""
    twine, lot = written(tmp_path, "twine.json", TWO_FLAWS), written(tmp_path, "lot.json", forces(1400))

    done = run(tmp_path, "judge", twine, lot)

    lines = done.stderr.splitlines()
    assert 65 == done.returncode
    assert [f"{twine}#/characteristics/0/unit", f"{twine}#/requirements/0/limits"] == [line.split(": ")[0] for line in lines]
    assert "Write `kgf` if that is meant" in lines[0]
    assert "Swap them or correct one." in lines[1]
    assert ["/characteristics/0/unit", "/requirements/0/limits"] == [flaw["at"] for flaw in json.loads(done.stdout)["flaws"]]


@pytest.mark.parametrize(
    ("text", "at"),
    [
        ('{"lot": {"id": "a"}, "lot": {"id": "a"}}', "/lot"),
        ('{"lot": {"id": "a"}', ""),
        ("\ufeff{}", ""),
        (json.dumps({**forces(), "series": [{"characteristic": "breaking_force", "unit": "N", "values": ["1"]}]}), VALUE),
        (json.dumps({**forces(), "series": [{"characteristic": "breaking_force", "unit": "lb", "values": [1]}]}), UNIT),
        ('{"lot": {"id": "a"}, "serious": []}', "/serious"),
    ],
)
def test_evidence_is_read_as_strictly_as_a_request(tmp_path: Path, text: str, at: str) -> None:
    """A file that the service would refuse gets no verdict."""
    twine, lot = written(tmp_path, "twine.json", SPECIFICATION), written(tmp_path, "lot.json", text)

    done = run(tmp_path, "judge", twine, lot)

    assert 65 == done.returncode
    assert done.stderr.startswith(f"{lot}{'#' if at else ''}{at}: ")
    assert "Traceback" not in done.stderr


def test_a_file_that_is_not_there_is_one_sentence(tmp_path: Path) -> None:
    """A slip of the pen in a script."""
    done = run(tmp_path, "judge", tmp_path / "none.json", tmp_path / "none.json")

    assert 2 == done.returncode
    assert "does not exist" in done.stderr
    assert "Traceback" not in done.stderr


def test_a_review_says_advice_and_ends_well(tmp_path: Path) -> None:
    """What is allowed and yet seldom meant is no flaw."""
    bare = {**SPECIFICATION, "characteristics": [{"name": "breaking_force", "unit": "N"}]}
    twine = written(tmp_path, "twine.json", bare)

    status, seen = on_a_terminal(tmp_path, "review", twine)

    assert 0 == status
    assert "The grade sets no sample of `breaking_force`" in seen
    assert "No flaws. sha256:" in seen


def test_a_review_is_the_one_that_the_service_gives(tmp_path: Path) -> None:
    """A check before posting foretells the answer to the post."""
    twine = written(tmp_path, "twine.json", TWO_FLAWS)
    with service_in(tmp_path) as address:
        answer = ask(address, "POST", "/v1/reviews", TWO_FLAWS)

    done = run(tmp_path, "review", twine)

    assert 65 == done.returncode
    assert answer.document["flaws"] == json.loads(done.stdout)["flaws"]
    assert 2 == len(done.stderr.splitlines())
