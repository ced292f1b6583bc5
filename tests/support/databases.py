"""Databases to test on: SQLite always, PostgreSQL where one can be reached or started."""

import os
import pwd
import secrets
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import asyncpg
from sqlalchemy.engine import make_url

URL = "MARKERYARN_TEST_POSTGRESQL_URL"
WHETHER = "MARKERYARN_TEST_POSTGRESQL"
UNPRIVILEGED = ("postgres", "nobody")


class NoPostgresqlError(Exception):
    """There is none to test on; the text says what was looked for."""


def is_required() -> bool:
    """True where a missing PostgreSQL fails the tests instead of skipping them."""
    return os.environ.get(WHETHER) == "required"


@contextmanager
def server() -> Iterator[str]:
    """The URL of a server on which databases may be made: the one named in the environment, else a private one.

    Raises NoPostgresqlError.
    """
    if url := os.environ.get(URL):
        yield url
        return
    folder = Path(tempfile.mkdtemp(prefix="my-", dir="/tmp"))  # noqa: S108  a socket's path may have 100 characters only
    try:
        programs, prefix = _programs(), _as_unprivileged(folder)
        _start(folder, programs, prefix)
        try:
            yield f"postgresql://marker@/postgres?host={folder}"
        finally:
            _run([*prefix, str(programs / "pg_ctl"), "-D", str(folder / "data"), "-m", "immediate", "-w", "stop"])
    finally:
        shutil.rmtree(folder, ignore_errors=True)


async def new_database(url: str) -> str:
    """The URL of a new, empty database on this server."""
    name = f"marker_{secrets.token_hex(6)}"
    connection = await asyncpg.connect(url)
    try:
        await connection.execute(f"CREATE DATABASE {name}")
    finally:
        await connection.close()
    return make_url(url).set(database=name).render_as_string(hide_password=False)


async def drop_database(server_url: str, url: str) -> None:
    """End its connections and take it away."""
    connection = await asyncpg.connect(server_url)
    try:
        await connection.execute(f"DROP DATABASE IF EXISTS {make_url(url).database} WITH (FORCE)")
    finally:
        await connection.close()


def _programs() -> Path:
    """Where initdb and pg_ctl are, the newest ones."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin"), key=lambda path: float(path.parent.name))
    if found:
        return found[-1]
    if on_path := shutil.which("initdb"):
        return Path(on_path).resolve().parent
    raise NoPostgresqlError(f"No PostgreSQL to test on: {URL} is not set, and initdb is not on this machine.")


def _as_unprivileged(folder: Path) -> list[str]:
    """PostgreSQL refuses to run as root, so that root lets another user start it."""
    if os.geteuid() != 0:
        return []
    names = {entry.pw_name for entry in pwd.getpwall()}
    user = next((name for name in UNPRIVILEGED if name in names), None)
    if user is None or not shutil.which("runuser"):
        raise NoPostgresqlError("No PostgreSQL to test on: root cannot start one without runuser and an unprivileged user.")
    shutil.chown(folder, user)
    return ["runuser", "-u", user, "--"]


def _start(folder: Path, programs: Path, prefix: list[str]) -> None:
    data = str(folder / "data")
    _run([*prefix, str(programs / "initdb"), "-D", data, "-U", "marker", "-A", "trust", "-E", "UTF8", "--locale=C", "-N"])
    options = f"-k {folder} -c listen_addresses='' -c fsync=off"
    _run([*prefix, str(programs / "pg_ctl"), "-D", data, "-o", options, "-l", str(folder / "log"), "-w", "start"])


def _run(command: list[str]) -> None:
    done = subprocess.run(command, check=False, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True, cwd="/")  # noqa: S603  our own words
    if done.returncode:
        raise NoPostgresqlError(f"PostgreSQL did not start: {done.stderr.strip()}")
