"""`markeryarn plan`: a plan and its risks, without a server."""

import json
from pathlib import Path

import pytest

from tests.support.commands import on_a_terminal, run, written
from tests.support.services import ask, service_in

LETTER_J = ("--table", "MIL-STD-105E", "--level", "II", "--aql", 2.5, "--lot", 1200)


def rows(text: str) -> list[list[str]]:
    """The words of each line."""
    return [line.split() for line in text.splitlines()]


def test_a_plan_is_shown_with_its_risks_and_its_curve(tmp_path: Path) -> None:
    """What a manager has looked up in a photocopy: MIL-STD-105E, J at 2.5, 80, 5/6 (reference A1); 96.667 % at 3 % by scipy."""
    done = run(tmp_path, "plan", *LETTER_J)
    shown = rows(done.stdout)

    assert (0, "") == (done.returncode, done.stderr)
    assert "Plan by attributes, MIL-STD-105E, code letter J, normal inspection" in done.stdout
    assert ["1", "80", "5", "6"] in shown
    assert ["3", "96.6694", "2.7067", "80.00"] in shown
    assert ["3.317", "%", "nonconforming", "is", "accepted", "with", "95", "%"] in shown
    assert max(map(len, done.stdout.splitlines())) <= 80


def test_the_curve_falls_from_all_to_nearly_none(tmp_path: Path) -> None:
    """Bars of eight lines; each line is as long as the one below it or shorter."""
    done = run(tmp_path, "plan", *LETTER_J)
    bars = [line.split("|")[1] for line in done.stdout.splitlines() if "|" in line]

    assert 8 == len(bars)
    assert all(bar.startswith("████████") for bar in bars)
    assert sorted(map(len, bars)) == list(map(len, bars))
    assert [line for line in done.stdout.splitlines() if line.endswith("16 % nonconforming")]


def test_the_document_is_the_one_that_the_service_answers(tmp_path: Path) -> None:
    """What was worked out without a server can be compared with what was by one."""
    body = {
        "sample": {"plan": "code_letter", "table": "MIL-STD-105E", "level": "II", "aql": 2.5, "scheme": "double"},
        "lot": {"size": 1200},
        "qualities": [1, 2.5],
    }
    with service_in(tmp_path) as address:
        answer = ask(address, "POST", "/v1/sampling-plans", body)
    done = run(tmp_path, "plan", *LETTER_J, "--scheme", "double", "--quality", 1, "--quality", 2.5, "--json")

    assert answer.body.decode() + "\n" == done.stdout


@pytest.mark.parametrize(
    ("words", "row"),
    [
        (("--two-point", "1:5", "6.5:10"), ["1", "81", "2", "3"]),
        (("--two-point", "1:5", "6.5:10", "--law", "hypergeometric", "--lot", 500), ["1", "76", "2", "3"]),
        (("--two-point", "1:5", "6.5:10", "--variables"), ["37", "1.8779"]),
        (("--table", "MIL-STD-414", "--letter", "D", "--aql", 1), ["5", "1.53"]),
        (("--packages", 20, "--k", 1.82), ["20", "1.82"]),
        (("--packages", 20, "--k", 1.82, "--sigma-known"), ["20", "1.82"]),
        (("--packages", 20, "--at-most", 3, "--occurrences"), ["1", "20", "3", "4"]),
        (("--table", "MIL-STD-105E", "--letter", "J", "--aql", 2.5, "--inspection", "tightened"), ["1", "80", "3", "4"]),
        (("--table", "MIL-STD-105E", "--letter", "J", "--aql", 2.5, "--inspection", "reduced"), ["1", "32", "2", "5"]),
    ],
)
def test_options_say_what_a_grade_says(tmp_path: Path, words: tuple[object, ...], row: list[str]) -> None:
    """MIL-STD-105E Tables II-B and II-C, MIL-STD-414 Table B-1 (SEEN); the two-point plans as the engine's tests find them."""
    done = run(tmp_path, "plan", *words)

    assert (0, "") == (done.returncode, done.stderr)
    assert row in rows(done.stdout)


def test_a_file_holds_what_a_grade_has_as_its_sample(tmp_path: Path) -> None:
    """Any plan of a grade can be shown. Lot of 60, all drawn: nothing leaves unseen."""
    file = written(tmp_path, "sample.json", {"plan": "every"})
    status, seen = on_a_terminal(tmp_path, "plan", file, "--at-most", 2, "--lot", 60, "--law", "hypergeometric")

    assert 0 == status
    assert "The sample is the whole lot." in seen
    assert ["1", "60", "2", "3"] in rows(seen)
    assert "(exactly 100.00 %)" in seen


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (
            ("--table", "MIL-STD-105E", "--level", "II", "--aql", 2.5),
            "/lot/size: How many packages to take depends on the size",
        ),
        (("--table", "MIL-STD-105E", "--letter", "J", "--aql", 2.6), "/sample/aql: MIL-STD-105E has no AQL 2.6."),
        (("--packages", 80), "/at_most: The plan `fixed` gives how many packages to draw"),
        (("--table", "MIL-STD-105", "--letter", "J", "--aql", 2.5), "/sample/table: `MIL-STD-105` is not known here."),
    ],
)
def test_why_there_is_no_plan_is_said_on_standard_error(tmp_path: Path, words: tuple[object, ...], said: str) -> None:
    """As the service says it, with the member of the request that it would have."""
    done, as_document = run(tmp_path, "plan", *words), run(tmp_path, "plan", *words, "--json")

    assert (65, "") == (done.returncode, done.stdout)
    assert done.stderr.startswith(said)
    assert said.split(":", maxsplit=1)[0] == json.loads(as_document.stdout)["flaws"][0]["at"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((), "Give one plan"),
        (("--packages", 3, "--aql", 1), "Give one plan"),
        (("--two-point", "1", "6.5:10"), "`1` is not a quality and a risk in percent. Write them as 6.5:10."),
    ],
)
def test_options_that_name_no_plan_are_one_sentence(tmp_path: Path, words: tuple[object, ...], said: str) -> None:
    """A slip of the pen in a script."""
    done = run(tmp_path, "plan", *words)

    assert 2 == done.returncode
    assert said in done.stderr
    assert "Traceback" not in done.stderr


def test_a_file_without_a_plan_is_said_with_its_name(tmp_path: Path) -> None:
    """It is read as strictly as a request."""
    file = written(tmp_path, "sample.json", '{"plan": "every"')
    done = run(tmp_path, "plan", file, "--at-most", 2)

    assert 65 == done.returncode
    assert done.stderr.startswith(f"{file}: ")
