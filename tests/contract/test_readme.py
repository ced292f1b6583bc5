"""The README: each of its commands works as printed and shows what is shown, and it is read in three minutes.

The two lines that set it up are run by `.ci/run`, in environments made anew.
"""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.support.pages import TOP, Block, Reader, Step, blocks, differences, environment_with, left_running, steps
from tests.support.servers import free_port

README = TOP / "README.md"
MOST_WORDS = 1000
"""Read in three minutes at some 300 words a minute, from memory."""
INSTALLED = ".venv/bin/markeryarn"
DEMO, TESTS, SERVE, *STEPS = steps(README)


def reader_in(folder: Path, port: str) -> Reader:
    """Somebody in the project's folder, whose data lies elsewhere."""
    environment = environment_with(folder / "bin", MARKERYARN_DATABASE_URL=f"sqlite:///{folder}/grades.db")
    return Reader(TOP, environment, {"8000": port, INSTALLED: "markeryarn"})


@pytest.fixture(scope="module")
def reader(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Reader]:
    """The same, having started the service and going on in a second terminal."""
    folder, port = tmp_path_factory.mktemp("reader"), str(free_port())
    reader = reader_in(folder, port)
    environment = environment_with(folder / "again", MARKERYARN_DATABASE_URL=f"sqlite:///{folder}/grades.db")
    with left_running(reader.adapted(SERVE.run.text), TOP, environment) as line:
        assert f"Marker Yarn answers at http://127.0.0.1:{port}," in line
        yield reader


@pytest.mark.parametrize("step", STEPS, ids=lambda step: f"line-{step.run.line}")
def test_a_command_of_the_readme_gives_what_is_shown(reader: Reader, step: Step) -> None:
    """The first thing that a new user copies has to work; nothing that answers here is a refusal."""
    came = reader.output_of(step.run) if step.run.language == "python" else reader.seen_by(step.run)

    assert '"/problems/' not in came
    if step.shown:
        assert [] == differences(step.shown.text, step.shown.language, came)


def test_the_demo_prints_what_the_readme_shows(tmp_path: Path) -> None:
    """A new user compares it with what his own machine prints."""
    demo = DEMO.run.text.rpartition(" && ")[2]

    assert f"{INSTALLED} demo\n" == demo
    assert DEMO.shown
    assert 8 <= len(DEMO.shown.text.splitlines()) <= 12
    assert [] == differences(DEMO.shown.text, "text", reader_in(tmp_path, "8000").seen_by(DEMO.run._replace(text=demo)))


def test_each_of_the_two_ways_to_set_it_up_is_one_line() -> None:
    """So that it can be copied whole; by any shell, as no command goes on in a next line."""
    for way in (DEMO, TESTS):
        assert re.fullmatch(r"python3 -m venv \.venv && \.venv/bin/pip install [^\n]+ && \.venv/bin/[^\n]+\n", way.run.text)
    assert TESTS.run.text.endswith(".venv/bin/pytest -n 2 --dist loadfile\n")


def test_every_block_of_the_readme_is_run_or_shows_what_comes() -> None:
    """A block that nobody runs goes out of date. The first question is asked in the shell and in Python."""
    taken: list[Block] = [block for step in (DEMO, TESTS, SERVE, *STEPS) for block in step if block]

    assert blocks(README) == taken
    assert {"sh", "python"} == {step.run.language for step in STEPS if step.shown}


def test_the_readme_is_read_in_three_minutes() -> None:
    """Counted as `wc -w` does."""
    assert MOST_WORDS >= len(README.read_text(encoding="utf-8").split())


def test_every_page_says_that_a_breaking_force_is_not_a_working_load() -> None:
    """Somebody might lift by a figure that is shown here."""
    for page in (README, TOP / "openapi" / "GUIDE.md", TOP / "openapi" / "OPERATING.md", TOP / "DEVELOPERS.md"):
        assert "A breaking force is not a working load." in page.read_text(encoding="utf-8")


def test_every_file_that_a_page_links_to_is_there() -> None:
    """A reader clicks."""
    for page in (README, TOP / "openapi" / "OPERATING.md"):
        for target in re.findall(r"\]\(([^)#]+)\)", page.read_text(encoding="utf-8")):
            assert (page.parent / target).exists(), target
