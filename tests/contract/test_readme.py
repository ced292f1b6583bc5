"""The README: what it shows on a console comes, and its table of settings is that of the service.

Its first two blocks, the demo and the tests themselves, are run by `.ci/run`.
"""

import ast
import json
import re
import subprocess
from collections.abc import Iterator, Mapping
from itertools import pairwise
from pathlib import Path
from typing import NamedTuple

import msgspec
import pytest

from service import settings
from service.settings import PREFIX, Settings
from tests.support.pages import TOP, Block, Reader, blocks, differences, environment_with, left_running
from tests.support.servers import free_port

README = TOP / "README.md"
CONSOLES = [block for block in blocks(README) if block.language == "console"]


class Typed(NamedTuple):
    """A command as it is typed, and what is shown below it."""

    command: str
    shown: str


def typed(block: Block) -> Iterator[Typed]:
    """The commands of a console, each with what is shown below it."""
    for part in re.split(r"^\$ ", block.text, flags=re.MULTILINE)[1:]:
        lines = part.splitlines()
        last = next(number for number, line in enumerate(lines) if not line.endswith("\\"))
        yield Typed("\n".join(lines[: last + 1]), "\n".join(lines[last + 1 :]))


COMMANDS = [command for block in CONSOLES for command in typed(block)]


@pytest.fixture(scope="module")
def reader(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Reader]:
    """Somebody in the project's folder who has typed the first command and goes on in a second terminal."""
    folder, port = tmp_path_factory.mktemp("reader"), str(free_port())
    environment = environment_with(folder / "bin", MARKERYARN_DATABASE_URL=f"sqlite:///{folder}/grades.db")
    reader = Reader(TOP, environment, {"8000": port})
    with left_running(reader.adapted(COMMANDS[0].command), TOP, environment) as line:
        assert "Marker Yarn answers at " in line
        yield reader


@pytest.mark.parametrize("typed", COMMANDS[1:], ids=lambda typed: f"{typed.command[:40]}")
def test_a_command_of_the_readme_gives_what_is_shown(reader: Reader, typed: Typed) -> None:
    """The first thing that a new user copies has to work."""
    came = reader.output_of(Block("sh", typed.command, 0))

    assert [] == differences(typed.shown or "…", "text", came)


def test_the_readme_shows_a_service_that_is_started_and_asked() -> None:
    """The test above must have something to do."""
    assert len(COMMANDS) >= 3
    assert COMMANDS[-1].shown


def test_the_settings_in_the_readme_are_those_of_the_service() -> None:
    """An operator finds every setting with its default and what it does, and none that is gone."""
    rows = re.findall(rf"^\| `({PREFIX}\w+)` \| (.+?) \| (.+) \|$", README.read_text(encoding="utf-8"), re.MULTILINE)

    assert list(described_settings()) == rows


def described_settings() -> Iterator[tuple[str, str, str]]:
    """(variable, default, what it does) of every setting, by the text below it in the source."""
    tree = ast.parse(Path(settings.__file__).read_text(encoding="utf-8"))
    body = next(node.body for node in tree.body if isinstance(node, ast.ClassDef) and node.name == Settings.__name__)
    texts = {
        field.target.id: text.value.value
        for field, text in pairwise(body)
        if isinstance(field, ast.AnnAssign) and isinstance(field.target, ast.Name)
        if isinstance(text, ast.Expr) and isinstance(text.value, ast.Constant)
    }
    for field in msgspec.structs.fields(Settings):
        # As an operator writes it: `false`, not Python's False.
        default = str(field.default).lower() if isinstance(field.default, bool) else field.default
        yield f"{PREFIX}{field.name.upper()}", f"`{default}`" if default not in {"", None} else "none", str(texts[field.name])


def test_a_service_is_on_a_network_by_the_ten_lines_of_the_readme(tmp_path: Path) -> None:
    """An operator copies them. Here the address is loopback's, and the name is looked up nowhere."""
    (block,) = [block for block in blocks(README) if block.language == "sh" and "markeryarn serve --host" in block.text]
    port = str(free_port())
    lines = block.text.replace("192.0.2.7", "127.0.0.1").replace("8443", port).strip()
    parts = re.fullmatch(r"(.*\n)(markeryarn serve [^\n]*) &\n(curl .*)", lines, re.DOTALL)
    assert parts
    before, serve, curl = parts.groups()
    environment = environment_with(tmp_path / "bin")
    told = done(f"set -euao pipefail\n{before}\nenv -0", tmp_path, environment)
    with_keys = dict(part.split("=", 1) for part in told[told.index("\0") + 1 :].split("\0") if "=" in part)

    assert 10 >= len(block.text.strip().splitlines())
    with left_running(serve, tmp_path, environment | with_keys) as line:
        assert f"https://127.0.0.1:{port}" in line
        here = curl.replace("curl ", f"curl -sS --resolve yarn.mill.example:{port}:127.0.0.1 ")
        assert {"grades": []} == json.loads(done(here, tmp_path, environment | with_keys))


def done(script: str, folder: Path, environment: Mapping[str, str]) -> str:
    """What a script prints that ends well."""
    return subprocess.run(
        ["/bin/bash", "-c", script], cwd=folder, env=environment, stdout=subprocess.PIPE, text=True, check=True
    ).stdout


def test_every_page_says_that_a_breaking_force_is_not_a_working_load() -> None:
    """Somebody might lift by a figure that is shown here."""
    for page in (README, TOP / "openapi" / "GUIDE.md", TOP / "DEVELOPERS.md"):
        assert "A breaking force is not a working load." in page.read_text(encoding="utf-8")


def test_every_file_that_the_readme_links_to_is_there() -> None:
    """A reader clicks."""
    for target in re.findall(r"\]\(([^)#]+)\)", README.read_text(encoding="utf-8")):
        assert (TOP / target).exists(), target
