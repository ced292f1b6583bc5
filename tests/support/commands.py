"""The command `markeryarn` as a process of its own, and the files that it is given."""

import json
import os
import pty
import subprocess
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from tests.support.servers import SECONDS_TO_END, command, environment

SPECIFICATION: Mapping[str, Any] = {
    "title": "Invented figures",
    "characteristics": [{"name": "breaking_force", "unit": "N", "sample": {"plan": "fixed", "packages": 2}}],
    "requirements": [{"id": "strength", "kind": "mean", "of": "breaking_force", "limits": {"lower": 1400}}],
}


def run(folder: Path, *words: object, **settings: str) -> subprocess.CompletedProcess[str]:
    """What becomes of `markeryarn WORDS`, its output going into pipes; settings without their prefix."""
    return subprocess.run(
        command(*map(str, words)),
        env=environment(folder, **settings),
        capture_output=True,
        text=True,
        check=False,
        timeout=SECONDS_TO_END,
    )


def on_a_terminal(folder: Path, *words: object) -> tuple[int, str]:
    """(exit status, what a person sees) of `markeryarn WORDS` on a terminal."""
    ours, its = pty.openpty()
    with subprocess.Popen(command(*map(str, words)), env=environment(folder), stdout=its, stderr=its) as process:
        os.close(its)
        seen = b""
        while part := _read(ours):
            seen += part
    os.close(ours)
    return process.returncode, seen.decode().replace("\r\n", "\n")


def _read(terminal: int) -> bytes:
    """What comes next; b"" at the end, which a terminal tells by an error."""
    try:
        return os.read(terminal, 65536)
    except OSError:
        return b""


def written(folder: Path, name: str, document: object) -> Path:
    """A file with this document, or with this text as it stands."""
    file = folder / name
    file.write_text(document if isinstance(document, str) else json.dumps(document), encoding="utf-8")
    return file


def forces(*newtons: float) -> Mapping[str, Any]:
    """Evidence with these breaking forces."""
    return {"lot": {"id": "0412-07"}, "series": [{"characteristic": "breaking_force", "unit": "N", "values": list(newtons)}]}
