"""Instructions that a path takes, counted by valgrind's callgrind: the same at every run, however busy the machine is."""

import os
import re
import shutil
import subprocess
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

from tests.bench.paths import REFERENCE, TIMES, works

ROOT = Path(__file__).parents[2]
MARK = "getppid"
"""The C function that `paths.mark` calls; callgrind writes out what it has counted, and counts anew, each time."""
SECONDS_AT_MOST = 300
_TOTALS = re.compile(r"^totals: (\d+)$", re.MULTILINE)


class CannotCountError(Exception):
    """There are no counts; its text says why and what to do."""


class Count(NamedTuple):
    """What doing something once takes."""

    instructions: int
    ratio: float
    """Instructions by those of the reference, of the same run."""
    profile: Path
    """For callgrind_annotate."""


def why_not() -> str:
    """Why nothing can be counted here; "" where it can."""
    if shutil.which("valgrind"):
        return ""
    return "valgrind is not installed, which counts instructions. Install it (apt-get install valgrind)."


def counts(folder: Path) -> Mapping[str, Count]:
    """What each path takes, by its name; profiles are left in the folder.

    Start-up and warming come before the first mark, so that they are in no count.

    Raises CannotCountError.
    """
    names = [REFERENCE, *paths()]
    profiles = counted(folder, "tests.bench.paths", len(names))
    instructions = dict(zip(names, map(total, profiles), strict=True))
    return {
        name: Count(instructions[name] // TIMES, instructions[name] / instructions[REFERENCE], path)
        for name, path in zip(names, profiles, strict=True)
        if name != REFERENCE
    }


def counted(folder: Path, module: str, number: int) -> Sequence[Path]:
    """What a program counts between its marks, so many times, as profiles that are left in the folder.

    Raises CannotCountError.
    """
    profile = folder / "callgrind.out"
    command = ("valgrind", "--tool=callgrind", f"--dump-before={MARK}", f"--callgrind-out-file={profile}")
    program = (sys.executable, "-m", module)
    environment = os.environ | {"PYTHONHASHSEED": "0"}
    done = subprocess.run(
        (*command, *program), cwd=ROOT, env=environment, capture_output=True, text=True, timeout=SECONDS_AT_MOST, check=False
    )
    # The first one written out, at the first mark, is of the start.
    profiles = [profile.with_name(f"{profile.name}.{each}") for each in range(2, number + 2)]
    if done.returncode or not all(each.is_file() for each in profiles):
        raise CannotCountError(f"valgrind counted nothing between the calls of {MARK}. It said: {done.stderr[-2000:]}")
    return profiles


def paths() -> list[str]:
    """The names of the paths that have a budget."""
    return [name for name in works() if name != REFERENCE]


def total(profile: Path) -> int:
    """The instructions of one profile."""
    found = _TOTALS.search(profile.read_text())
    if not found:
        raise CannotCountError(f"{profile} has no totals. Count again, or see what valgrind wrote there.")
    return int(found[1])
