"""A PostgreSQL for tests: the one that MARKERYARN_TEST_POSTGRESQL_URL names, else a private one on a socket in a folder."""

import contextlib
import getpass
import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

import pytest

URL, WANTED = "MARKERYARN_TEST_POSTGRESQL_URL", "MARKERYARN_TEST_POSTGRESQL"
USER = "tests"
WITHIN_S = 30
ROOM = 2 * 2**30
"""Bytes; a server of all tests holds less than half of it, as each database is dropped after its test."""


class Private(NamedTuple):
    """A running server that nobody else can reach."""

    url: str
    """DATABASE stands where the name of one goes."""
    control: Sequence[str]
    """The command that starts and stops it."""
    start: Sequence[str]

    @contextlib.contextmanager
    def stopped(self) -> Iterator[None]:
        """Down as after a loss of power; up again afterwards."""
        _run([*self.control, "-m", "immediate", "stop"])
        try:
            yield
        finally:
            _run([*self.control, *self.start])


@contextlib.contextmanager
def postgresql() -> Iterator[str]:
    """The URL of a server, DATABASE where the name of one goes. Without one, the test is skipped, or fails if required."""
    if given := os.environ.get(URL):
        yield f"{given.rpartition('/')[0]}/DATABASE"
    else:
        with private_postgresql() as server:
            yield server.url


@contextlib.contextmanager
def private_postgresql() -> Iterator[Private]:
    """A server that a test may stop. Without one, the test is skipped, or fails if there is none at all and it is required."""
    binaries = _binaries()
    if binaries is None:
        said = "There is no PostgreSQL to start: initdb is neither in /usr/lib/postgresql nor on the path."
        assert os.environ.get(URL) or os.environ.get(WANTED) != "required", f"{said} {URL} is not set either."
        pytest.skip(said)
    with _private(binaries) as server:
        yield server


def _binaries() -> Path | None:
    """The folder of the newest PostgreSQL on this machine."""
    packaged = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda path: int(path.parts[-3]))
    found = str(packaged[-1]) if packaged else shutil.which("initdb")
    return Path(found).parent if found else None


@contextlib.contextmanager
def durable_postgresql() -> Iterator[Private]:
    """A private server in its default settings, to measure: what it acknowledges is on the disk."""
    binaries = _binaries()
    assert binaries, "There is no PostgreSQL to start."
    with _private(binaries, fsync="on") as server:
        yield server


@contextlib.contextmanager
def _private(binaries: Path, fsync: str = "off") -> Iterator[Private]:
    """The server of these binaries, gone afterwards."""
    # A socket's path has about 100 bytes at most, so not in pytest's folders.
    with tempfile.TemporaryDirectory(
        prefix="pg-", dir=None if fsync == "on" else _in_memory(), ignore_cleanup_errors=True
    ) as name:
        folder = Path(name)
        as_user = _as_unprivileged(folder)
        data = str(folder / "data")
        options = f"-k {folder} -c listen_addresses='' -c fsync={fsync}"
        _run(
            [*as_user, str(binaries / "initdb"), "-D", data, "-A", "trust", "-U", USER, "-E", "UTF8", "--locale=C", "--no-sync"]
        )
        control = [*as_user, str(binaries / "pg_ctl"), "-D", data, "-w", "-t", str(WITHIN_S)]
        start = ["-l", str(folder / "log"), "-o", options, "start"]
        _run([*control, *start])
        try:
            yield Private(f"postgresql://{USER}@/DATABASE?host={folder}", control, start)
        finally:
            _run([*control, "-m", "immediate", "stop"])


def _in_memory() -> Path | None:
    """A folder in memory with room for a server, where there is one.

    A database is some 300 files, which are made there in a tenth of the time that it takes on a disk.
    """
    memory = Path("/dev/shm")  # noqa: S108  what is made in it has a name that nobody can know
    return memory if memory.is_dir() and shutil.disk_usage(memory).free >= ROOM else None


def _as_unprivileged(folder: Path) -> Sequence[str]:
    """What stands before a command so that it does not run as root, which PostgreSQL refuses."""
    if getpass.getuser() != "root":
        return ()
    known = {entry.pw_name for entry in pwd.getpwall()}
    user = "postgres" if "postgres" in known else "nobody"
    shutil.chown(folder, user)
    return ("runuser", "-u", user, "--")


def _run(words: Sequence[str]) -> None:
    done = subprocess.run(words, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True, check=False, cwd="/")
    assert 0 == done.returncode, done.stderr
