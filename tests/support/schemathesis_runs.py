"""Runs of Schemathesis over the OpenAPI document, each a process of its own that sends the same requests each time."""

import os
import re
import subprocess
import sys
from pathlib import Path

from tests.support.pages import TOP

# 412, 422 and 428 to what the schema allows: an unknown grade, limits upside down, a stale tag. No schema says these.
# 413: a list that is longer than it may be can make the body larger than it may be, which is told first.
CONFIGURATION = """
[checks.positive_data_acceptance]
expected-statuses = ["2xx", "3xx", "404", "409", "412", "422", "428"]
[checks.negative_data_rejection]
expected-statuses = ["400", "404", "405", "409", "412", "413", "415", "422", "428"]
# Every corner of a specification's schema is thousands of requests, minutes of them; they are left to the other phases.
[[operations]]
include-operation-id = ["addDraft", "replaceSpecification", "reviewSpecification", "judgeLot", "drawLot"]
[operations.phases.coverage]
enabled = false
"""
SECONDS_AT_MOST = 300
"""A run takes less than a minute on a machine that does nothing else."""


def run(
    folder: Path,
    schema: str,
    *options: str,
    seed: int | None = None,
    hooks: str = "tests.support.rows_as_they_are",
    configuration: str = "",
) -> tuple[int, str]:
    """(exit status, report) of a run.

    seed           where there is none the requests come from the document alone
    hooks          a module that says what it can't know
    configuration  what is set besides
    """
    (folder / "schemathesis.toml").write_text(configuration + CONFIGURATION, encoding="utf-8")
    chosen = ["--generation-deterministic"] if seed is None else ["--seed", str(seed)]
    words = ["run", schema, "--checks", "all", *chosen, "--no-color", *options]
    ended = subprocess.run(
        [sys.executable, "-m", "schemathesis.cli", *words],
        cwd=folder,
        env={**os.environ, "SCHEMATHESIS_HOOKS": hooks, "PYTHONPATH": str(TOP)},
        capture_output=True,
        text=True,
        timeout=SECONDS_AT_MOST,
        check=False,
    )
    return ended.returncode, ended.stdout[-8000:] + ended.stderr[-2000:]


def found(pattern: str, text: str) -> str:
    """What a pattern's group holds in the text."""
    match = re.search(pattern, text)
    assert match, text
    return match[1]
