"""The commands `backup` and `restore`, as somebody at the console uses them."""

import re
import signal
import sqlite3
import subprocess
from contextlib import closing
from pathlib import Path

from tests.support.commands import run
from tests.support.grades import each, grade, lot, series
from tests.support.servers import SECONDS_TO_END, command, environment
from tests.support.services import ask, released, service_in


def test_what_is_restored_judges_to_the_same_bytes(tmp_path: Path) -> None:
    """After a fire the mill answers a claim as before."""
    old, new, copy = tmp_path / "old", tmp_path / "new", tmp_path / "copy.gz"
    old.mkdir()
    new.mkdir()
    question = {"against": {"grade": "TB-130", "revision": 1}, "evidence": lot(series(1432.5, 1398))}
    with service_in(old) as address:
        released(address, "TB-130", grade(each(lower=1400)))
        before = ask(address, "POST", "/v1/verdicts", question)
        made = run(old, "backup", copy)
    done = run(new, "restore", copy)
    with service_in(new) as address:
        after = ask(address, "POST", "/v1/verdicts", question)

    match = re.fullmatch(r".*copy\.gz has \d+ rows; the journal ends at entry 2, (sha256:[0-9a-f]{64})\n", made.stdout)
    assert match, made
    assert done.stdout.endswith(f"and all 2 entries of the journal are in order. The last one is {match[1]}\n"), done
    assert (200, before.body) == (after.status, after.body)


def test_what_can_not_be_restored_is_a_sentence(tmp_path: Path) -> None:
    """A tired person at night reads what to do, and no traceback."""
    other = tmp_path / "other.txt"
    other.write_text("hello\n", encoding="utf-8")
    for file, said in ((tmp_path / "none.gz", "There is no file"), (other, "is not a copy of a database")):
        done = run(tmp_path, "restore", file)

        assert (1, "") == (done.returncode, done.stdout)
        assert said in done.stderr
        assert "Traceback" not in done.stderr


def test_a_copy_that_does_not_fit_is_restored_only_where_that_is_meant(tmp_path: Path) -> None:
    """Somebody has raised a limit in the file itself: a tired person at night does not go on with it unawares."""
    old, new, copy = tmp_path / "old", tmp_path / "new", tmp_path / "copy.gz"
    old.mkdir()
    new.mkdir()
    with service_in(old) as address:
        released(address, "TB-130", grade(each(lower=1400)))
    with closing(sqlite3.connect(old / "grades.db")) as kept:
        for (name,) in kept.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            kept.execute(f"DROP TRIGGER {name}")
        kept.execute("UPDATE revisions SET specification = replace(specification, '1400', '1300')")
        kept.commit()
    assert 0 == run(old, "backup", copy).returncode
    refused = run(new, "restore", copy)
    meant = run(new, "restore", "--keep-misfit", copy)

    assert (1, "") == (refused.returncode, refused.stdout)
    assert "The copy does not match its journal" in refused.stderr
    assert "Nothing was restored." in refused.stderr
    assert (1, "") == (meant.returncode, meant.stdout)
    assert "The copy is restored, and does not match its journal" in meant.stderr
    assert 0 == run(new, "key", "list").returncode


def test_a_copy_that_was_killed_has_no_name(tmp_path: Path) -> None:
    """A file under the name of a copy is whole."""
    with service_in(tmp_path) as address:
        released(address, "TB-130", grade(each(lower=1400)))
    for _ in range(5):
        copying = subprocess.Popen(command("backup", str(tmp_path / "copy.gz")), env=environment(tmp_path))
        copying.send_signal(signal.SIGKILL)
        copying.wait(timeout=SECONDS_TO_END)

        assert not (tmp_path / "copy.gz").exists()
    assert 0 == run(tmp_path, "backup", tmp_path / "copy.gz").returncode
