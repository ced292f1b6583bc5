"""Giving out keys on the machine."""

import json
import subprocess
from pathlib import Path

from tests.support.commands import run
from tests.support.servers import SECONDS_TO_END, command, environment


def key(folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    """What `markeryarn key …` says on a database in a folder."""
    arguments, settings = command("key", *words), environment(folder)
    return subprocess.run(arguments, env=settings, capture_output=True, text=True, timeout=SECONDS_TO_END, check=False)


def test_a_key_is_shown_once_and_can_be_revoked(tmp_path: Path) -> None:
    """The token goes to standard output alone, so that a script can take it; the list never has it."""
    run(tmp_path, "migrate")
    token = key(tmp_path, "add", "station-7", "--scope", "check", "--expires", "90d").stdout.strip()
    listed = key(tmp_path, "list").stdout
    revoked = json.loads(key(tmp_path, "revoke", token[:12], "--reason", "The station was sold.", "--json").stdout)

    assert f"{token[:12]} of station-7 allows check until " in listed
    assert token not in listed
    assert ("station-7", "The station was sold.") == (revoked["name"], revoked["reason"])


def test_a_key_that_cannot_be_made_is_refused_with_the_reason(tmp_path: Path) -> None:
    """Status 1, nothing on standard output that a script would take for a key."""
    run(tmp_path, "migrate")
    refused = key(tmp_path, "add", "local", "--scope", "check")

    assert (1, "") == (refused.returncode, refused.stdout)
    assert "`local` is the name of callers without a key" in refused.stderr


def test_a_key_is_made_in_no_database_that_is_not_there(tmp_path: Path) -> None:
    """A slip in the path would else make a new one, and leave the service open to all."""
    refused = key(tmp_path, "add", "station-7", "--scope", "check")

    assert (1, "") == (refused.returncode, refused.stdout)
    assert "Correct the path in MARKERYARN_DATABASE_URL, or create it with `markeryarn migrate`." in refused.stderr
    assert not list(tmp_path.iterdir())
