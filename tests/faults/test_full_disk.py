"""A disk without room: changes are refused until there is room again, nothing is damaged, and checks go on."""

import os
import shutil
import sqlite3
import subprocess
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from tests.faults.invented import CHECK, GRADE, draft
from tests.faults.talking import Line, line_to, told_to_come_again
from tests.support.commands import SPECIFICATION
from tests.support.services import released, service_in

SIZE = "2m"
MOST_DRAFTS = 5000


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of two mebibytes in memory."""
    mount, unmount = shutil.which("mount"), shutil.which("umount")
    if os.geteuid() != 0 or mount is None or unmount is None:
        pytest.skip("Mounting a small disk needs root.")
    folder = tmp_path / "disk"
    folder.mkdir()
    words = [mount, "-t", "tmpfs", "-o", f"size={SIZE}", "tmpfs", str(folder)]
    done = subprocess.run(words, capture_output=True, text=True, check=False)
    if done.returncode != 0:
        pytest.skip(f"This machine mounts no small disk: {done.stderr.strip()}")
    try:
        yield folder
    finally:
        subprocess.run([unmount, str(folder)], check=True)


def fill(disk: Path) -> Path:
    """A file that takes all the room that is left."""
    ballast = disk / "ballast"
    with ballast.open("wb", buffering=0) as file:
        for size in (65536, 4096, 1):
            try:
                while True:
                    file.write(bytes(size))
            except OSError:
                continue
    return ballast


def kept_until_refused(line: Line) -> int:
    """How many drafts were told as kept before one was refused for want of room; checks are answered all the while."""
    for kept in range(MOST_DRAFTS):
        heard = line.ask(draft(kept))
        assert 200 == line.ask(CHECK).status
        if heard.status != 201:
            assert told_to_come_again(heard), heard
            return kept
    raise AssertionError("The disk was never full.")


def test_without_room_changes_wait_and_nothing_is_lost(small_disk: Path, tmp_path: Path) -> None:
    """Someone forgot the logs of a year: whoever brings in a draft is told to come again, stations notice nothing."""
    file = small_disk / "grades.db"
    with service_in(tmp_path, DATABASE_URL=f"sqlite:///{file}") as address:
        released(address, GRADE, SPECIFICATION)
        with line_to(address) as line:
            ballast = fill(small_disk)
            kept = kept_until_refused(line)
            assert all(told_to_come_again(line.ask(draft(-number))) for number in range(1, 20))
            ballast.unlink()
            assert 201 == line.ask(draft(MOST_DRAFTS)).status
    with closing(sqlite3.connect(file)) as connection:
        assert [("ok",)] == connection.execute("PRAGMA integrity_check").fetchall()
        assert (1 + kept + 1,) == connection.execute("SELECT count(*) FROM revisions").fetchone()
