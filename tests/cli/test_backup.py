"""The commands `backup` and `restore`, as somebody at the console uses them."""

import re
import signal
import subprocess
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

    match = re.fullmatch(r"\d+ rows are in .*copy\.gz; the journal ends at entry 2, (sha256:[0-9a-f]{64})\n", made.stdout)
    assert match, made
    assert done.stdout.endswith(f"and all 2 entries of the journal fit. The last one is {match[1]}\n"), done
    assert (200, before.body) == (after.status, after.body)


def test_what_can_not_be_restored_is_a_sentence(tmp_path: Path) -> None:
    """A tired person at night reads what to do, and no traceback."""
    other = tmp_path / "other.txt"
    other.write_text("hello\n", encoding="utf-8")
    for file, said in ((tmp_path / "none.gz", "There is no file"), (other, "is no copy of ours")):
        done = run(tmp_path, "restore", file)

        assert (1, "") == (done.returncode, done.stdout)
        assert said in done.stderr
        assert "Traceback" not in done.stderr


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
