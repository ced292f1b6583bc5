"""The integrator's guide: everything in it is run in its order against a real service, and what it shows is what comes."""

import re
from collections.abc import Iterator
from pathlib import Path
from typing import get_args

import pytest

from service.api.access.gate import LARGE_BODY, MOST_LARGE_BYTES
from service.api.lots.rows import LONGEST_ROW
from service.api.problems import KINDS
from service.engine.deriving.ratios import QUOTIENTS
from service.engine.documents import MOST_FOUND, MOST_SERIES, in_words
from service.engine.grade import MOST_REQUIREMENTS
from service.engine.grade.searches import MOST_SEARCHES
from service.engine.grade.specification import MOST_CHARACTERISTICS
from service.engine.sampling import Sample
from service.settings import Settings
from service.usecases.judging.grading import MOST_GRADES, MOST_OF_ARTICLE
from tests.support.judging import REASONS
from tests.support.pages import TOP, Block, Reader, Step, blocks, differences, environment_with, left_running, steps
from tests.support.servers import free_port

GUIDE = TOP / "openapi" / "GUIDE.md"
STEPS = list(steps(GUIDE))


@pytest.fixture(scope="module")
def reader(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Reader]:
    """Somebody who has started a service by the guide's first step and goes on from there, on a port that is free here."""
    folder, port = tmp_path_factory.mktemp("reader"), str(free_port())
    environment = environment_with(folder / "bin")
    reader = Reader(folder, environment, {"8000": port, "openapi/vectors/run.py": str(TOP / "openapi" / "vectors" / "run.py")})
    with left_running(reader.adapted(STEPS[0].run.text), folder, environment) as line:
        assert f"Marker Yarn answers at http://127.0.0.1:{port}," in line
        yield reader


def at_line(step: Step) -> str:
    """Where a step stands."""
    return f"line-{step.run.line}"


@pytest.mark.parametrize("step", STEPS[1:], ids=at_line)
def test_a_step_of_the_guide_does_what_it_shows(reader: Reader, step: Step) -> None:
    """A reader copies; what is shown has to come. The steps build on each other, so they run in the page's order."""
    came = reader.output_of(step.run)

    assert [] == (differences(step.shown.text, step.shown.language, came) if step.shown else [])


def test_every_block_is_run_or_shows_what_comes() -> None:
    """A block that nobody runs goes out of date."""
    taken = [block for step in STEPS for block in step if block]

    assert blocks(GUIDE) == taken
    assert len(STEPS) > 20


def prose() -> str:
    """The guide without its fenced blocks, in which a line may begin with `#`."""
    return re.sub(r"^```.*?^```$", "", GUIDE.read_text(encoding="utf-8"), flags=re.MULTILINE | re.DOTALL)


def headings() -> list[tuple[int, str]]:
    """(level, title) of each chapter and section after the contents, in the order of the page."""
    after = prose().partition("\n## Contents\n")[2]
    return [(len(found[1]), found[2]) for found in re.finditer(r"^(##+) (.+)$", after, re.MULTILINE)]


def anchor(title: str) -> str:
    """The fragment that Markdown renderers make of a heading: lower case, a hyphen for each space, no other punctuation."""
    return re.sub(r"[^a-z0-9 -]", "", title.lower()).replace(" ", "-")


def test_the_contents_list_each_heading_in_order() -> None:
    """A section that the contents omit is not found, and one that they list and that is gone leads nowhere."""
    contents = prose().partition("\n## Contents\n")[2].partition("\n## ")[0]
    listed = re.findall(r"^( *)- \[(.+)\]\(#(.+)\)$", contents, re.MULTILINE)

    assert [("  " * (level - 2), title, anchor(title)) for level, title in headings()] == listed
    assert len(listed) == len(contents.split("\n- ")) - 1 + contents.count("\n  - ")


def test_the_anchors_are_the_same_on_every_common_renderer() -> None:
    """Renderers differ on punctuation and on a title that occurs twice; without these their anchors agree."""
    titles = [title for _, title in headings()]

    assert [] == [title for title in titles if not re.fullmatch(r"(?:[0-9]+\. )?[A-Za-z][A-Za-z -]*", title)]
    assert len(titles) == len({anchor(title) for title in titles})


def test_each_link_of_the_guide_leads_somewhere() -> None:
    """A reader clicks."""
    anchors = {anchor(title) for _, title in headings()}
    targets = re.findall(r"\]\(([^)]+)\)", prose())

    assert [] == [target for target in targets if target.startswith("#") and target[1:] not in anchors]
    assert [] == [target for target in targets if not target.startswith("#") and not (GUIDE.parent / target).exists()]
    assert {"openapi.json", "vectors"} <= set(targets)


def test_the_terms_are_ten_lines_before_the_first_chapter() -> None:
    """A newcomer reads them first, so they are few and short; every later word of the guide rests on them."""
    terms = prose().partition("\n## Terms\n")[2].partition("\n## ")[0].strip().splitlines()
    named = [re.match(r"- \*\*([A-Z][a-z]+)\*\*: ", line) for line in terms]

    assert 10 == len(terms)
    assert {"Grade", "Revision", "Evidence", "Finding", "Verdict"} <= {found[1] for found in named if found}
    assert ["Contents", "Terms"] == re.findall(r"^## (.+)$", prose(), re.MULTILINE)[:2]


@pytest.mark.parametrize(
    ("language", "shown", "came"),
    [
        ("json", '{"a": [1, 2]}', '{"a": [1]}'),
        ("json", '{"a": 1}', '{"a": true}'),
        ("json", '{"a": "x …"}', '{"a": "y"}'),
        ("json", '{"a": 1}', "{}"),
        ("text", "a\nb", "a\nc"),
        ("text", "a …", "b"),
    ],
)
def test_what_is_shown_and_does_not_come_is_found(language: str, shown: str, came: str) -> None:
    """A comparison that finds nothing proves nothing."""
    assert differences(shown, language, came)


def test_the_guide_lists_every_code_that_the_engine_gives() -> None:
    """A station's programmer looks a code up in one place."""
    section = GUIDE.read_text(encoding="utf-8").partition("\n### Reason codes\n")[2].partition("\n## ")[0]
    listed = re.findall(r"^\| `([a-z-]+)` \|", section, re.MULTILINE)

    assert sorted(REASONS) == sorted(listed)


def test_the_guide_lists_every_plan() -> None:
    """A grade is written from this table."""
    listed = re.findall(r"^\| `([a-z_]+)` \|", GUIDE.read_text(encoding="utf-8"), re.MULTILINE)

    assert {str(plan.__struct_config__.tag) for plan in get_args(Sample)} <= set(listed)


def test_the_guide_lists_every_status_of_a_refusal() -> None:
    """A client decides by the status whether to send a request again."""
    listed = re.findall(r"^\| ([45][0-9]{2}) \|", GUIDE.read_text(encoding="utf-8"), re.MULTILINE)

    assert sorted({kind.status for kind in KINDS.values()}) == [int(status) for status in listed]


def test_the_bounds_in_the_guide_are_those_of_the_service() -> None:
    """Who splits bodies by the guide must not be refused."""
    text = " ".join(GUIDE.read_text(encoding="utf-8").split())
    defaults = Settings()

    assert f"at most {defaults.max_body // 2**20} MiB and must arrive within {defaults.body_timeout:g} seconds" in text
    assert f"Of bodies above {LARGE_BODY // 2**20} MiB, the service works on {MOST_LARGE_BYTES // 2**20} MiB at a time" in text
    assert f"already works on {MOST_LARGE_BYTES // 2**20} MiB of large bodies" in text
    assert f"A row of CSV or NDJSON has at most {LONGEST_ROW:,} characters" in text
    assert f"The search ends at {MOST_FOUND} flaws of structure, and at {MOST_FOUND} of meaning" in text
    assert f"A lot has at most {MOST_SERIES} series" in text
    bounds = f"{MOST_CHARACTERISTICS} characteristics, {MOST_REQUIREMENTS} requirements and {MOST_SEARCHES} different plans"
    assert f"A specification has at most {bounds} for two points" in text
    assert f"{defaults.most_readings:,} readings (`MARKERYARN_MOST_READINGS`)" in text
    assert f"answers from memory for {defaults.stale_for:g} seconds (unless set otherwise)" in text
    assert f"At most {MOST_GRADES} grades are listed, and at most {MOST_OF_ARTICLE} may be of one article" in text


def test_the_guide_lists_every_quotient() -> None:
    """A refusal of a quotient points to the guide."""
    row = r"^\| ([a-z ]+) by ([a-z ]+) \| ([a-z ]+?)(?: \([a-z ]+\))? \|$"
    rows = set(re.findall(row, GUIDE.read_text(encoding="utf-8"), re.MULTILINE))
    known = {(in_words(one), in_words(other), in_words(quotient)) for (one, other), quotient in QUOTIENTS.items()}

    assert known == rows


def test_a_page_is_read_block_by_block(tmp_path: Path) -> None:
    """Line numbers lead to the block that is out of date."""
    page = tmp_path / "page.md"
    page.write_text("Title\n\n```sh\necho 1\n```\n```text\n1\n```\n\n```console\n$ nothing\n```\n", encoding="utf-8")

    assert [Step(Block("sh", "echo 1\n", 3), Block("text", "1\n", 6))] == list(steps(page))
