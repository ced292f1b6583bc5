"""Pages for people: their fenced blocks, run in order as a reader would, and what they show compared with what comes."""

import contextlib
import io
import json
import os
import pty
import re
import shlex
import signal
import subprocess
import sys
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, NamedTuple

TOP = Path(__file__).parents[2]
ANYTHING = "…"
WITHIN_S = 60
_COLOUR = re.compile(r"\x1b\[[0-9;]*m")
_FENCE = re.compile(r"^```([a-z]+)\n(.*?)^```$", re.MULTILINE | re.DOTALL)


class Block(NamedTuple):
    """One fenced block."""

    language: str
    text: str
    line: int


class Step(NamedTuple):
    """Something to run, and the block that shows what comes of it, if one does."""

    run: Block
    shown: Block | None


def blocks(page: Path) -> list[Block]:
    """All fenced blocks of a page."""
    text = page.read_text(encoding="utf-8")
    return [Block(found[1], found[2], text.count("\n", 0, found.start()) + 1) for found in _FENCE.finditer(text)]


def steps(page: Path) -> Iterator[Step]:
    """What is to be run, in the order of the page."""
    found = blocks(page)
    for number, block in enumerate(found):
        if block.language in {"sh", "python"}:
            after = found[number + 1 : number + 2]
            yield Step(block, after[0] if after and after[0].language in {"json", "text"} else None)


class Reader:
    """Somebody who copies blocks from a page into a shell and a Python that stays open, in one folder."""

    def __init__(self, folder: Path, environment: Mapping[str, str], replacements: Mapping[str, str]) -> None:
        """Sit down in a folder; in all that is run, `replacements` are made, such as a port that is free here."""
        self._folder, self._environment, self._replacements = folder, dict(environment), replacements
        self._names: dict[str, Any] = {"__name__": "__main__"}

    def output_of(self, block: Block) -> str:
        """What running a block prints."""
        text = self.adapted(block.text)
        return self._of_shell(text) if block.language == "sh" else self._of_python(text)

    def seen_by(self, block: Block) -> str:
        """What a block of the shell shows on a terminal, without colours; some commands print a document elsewhere."""
        shown = io.BytesIO()
        arguments = ["/bin/bash", "-euo", "pipefail", "-c", self.adapted(block.text)]
        ours, its = pty.openpty()
        with subprocess.Popen(arguments, cwd=self._folder, env=self._environment, stdin=its, stdout=its) as process:
            os.close(its)
            # Linux ends what is read of a terminal by an error, once nobody has it open any more.
            with contextlib.suppress(OSError), os.fdopen(ours, "rb", buffering=0) as terminal:
                while part := terminal.read(4096):
                    shown.write(part)
        assert 0 == process.returncode, shown.getvalue()
        return _COLOUR.sub("", shown.getvalue().decode()).replace("\r\n", "\n")

    def adapted(self, text: str) -> str:
        """The text with the replacements made."""
        for old, new in self._replacements.items():
            text = text.replace(old, new)
        return text

    def _of_shell(self, text: str) -> str:
        done = subprocess.run(
            ["/bin/bash", "-euo", "pipefail", "-c", text],
            cwd=self._folder,
            env=self._environment,
            capture_output=True,
            text=True,
            check=False,
            timeout=WITHIN_S,
        )
        assert 0 == done.returncode, done.stderr
        return done.stdout

    def _of_python(self, text: str) -> str:
        printed = io.StringIO()
        with contextlib.chdir(self._folder), contextlib.redirect_stdout(printed):
            exec(text, self._names)  # noqa: S102  our own page
        return printed.getvalue()


def environment_with(folder: Path, **variables: str) -> dict[str, str]:
    """An environment in which `markeryarn` and `python3` are this checkout's and this Python, by commands in a folder."""
    folder.mkdir()
    for name, command in (("markeryarn", f"{sys.executable} -m service.cli"), ("python3", sys.executable)):
        script = folder / name
        script.write_text(f'#!/bin/sh\nexec {command} "$@"\n', encoding="utf-8")
        script.chmod(0o755)
    kept = {name: text for name, text in os.environ.items() if not name.startswith("MARKERYARN_")}
    return {**kept, "PATH": f"{folder}:{os.environ['PATH']}", "PYTHONPATH": str(TOP), **variables}


def differences(shown: str, language: str, came: str) -> list[str]:
    """Where what came is not what is shown."""
    if language == "json":
        return list(_in_json(json.loads(shown), json.loads(came), ""))
    if re.fullmatch(_pattern(shown.strip()), came.strip(), re.DOTALL):
        return []
    return [f"{came!r} came and {shown!r} is shown"]


def _pattern(shown: str) -> str:
    return ".*".join(re.escape(part) for part in shown.split(ANYTHING))


def _in_json(shown: object, came: object, at: str) -> Iterator[str]:
    """Objects may hold more than is shown; lists are of one length; in texts `…` stands for anything."""
    if isinstance(shown, dict) and isinstance(came, dict):
        for name, member in shown.items():
            yield from _in_json(member, came.get(name), f"{at}/{name}")
    elif isinstance(shown, list) and isinstance(came, list) and len(shown) == len(came):
        for number, (one, other) in enumerate(zip(shown, came, strict=True)):
            yield from _in_json(one, other, f"{at}/{number}")
    elif isinstance(shown, str) and isinstance(came, str):
        if not re.fullmatch(_pattern(shown), came):
            yield f"{at} is {came!r} and {shown!r} is shown"
    elif (shown, type(shown)) != (came, type(came)):
        yield f"{at} is {came!r} and {shown!r} is shown"


@contextlib.contextmanager
def left_running(command: str, folder: Path, environment: Mapping[str, str]) -> Iterator[str]:
    """The first line of a command that goes on, as in a second terminal; it is ended as by Ctrl+C."""
    arguments = shlex.split(command)
    process = subprocess.Popen(arguments, cwd=folder, env=environment, stdout=subprocess.PIPE, text=True)
    try:
        yield process.stdout.readline() if process.stdout else ""
    finally:
        process.send_signal(signal.SIGINT)
        process.communicate(timeout=WITHIN_S)
    assert 0 == process.returncode
