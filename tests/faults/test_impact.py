"""What-if on many lots: in little memory, and nothing goes on when the caller, a worker or the service is gone."""

import json
import os
import signal
import socket
import time
from collections.abc import Callable, Generator, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any, NamedTuple

import pytest

from tests.faults.talking import Heard, request
from tests.support.grades import grade, mean
from tests.support.many_lots import put
from tests.support.servers import LOG, SECONDS_TO_END, Server, serving
from tests.support.services import ask, released
from tests.support.sizes import of_two

GRADE = "TB-130"
BEFORE, TIGHTER = (grade(mean(id="strength", lower=limit)) for limit in (300, 310))
TELLING = grade(*(mean(id=f"strength-{number}", lower=1000) for number in range(50)))
"""All lots fail all of it, which makes some kilobytes a lot."""
MANY = of_two(2000, 100_000)
SOME = 5000
MOST_MIB_MORE = 64
"""Than before; the documents of 100,000 lots alone have more."""
WAIT_S = 0.02


class Asked(NamedTuple):
    """A question that is being answered."""

    connection: socket.socket
    heard: Heard

    def told(self) -> Generator[dict[str, Any]]:
        """Line after line as they come."""
        with self.connection.makefile("rb") as file:
            while size := int(file.readline() or b"0", 16):
                for document in file.read(size).splitlines():
                    yield json.loads(document)
                file.readline()


@contextmanager
def mill(folder: Path, lots: int, draft: Any = TIGHTER, database_url: str = "", **settings: str) -> Iterator[Server]:
    """A server with so many lots, and a draft, revision 2."""
    url = database_url or f"sqlite:///{folder}/grades.db"
    with serving(folder, DATABASE_URL=url, MIGRATE_AT_START="true", **settings) as server:
        address = f"http://127.0.0.1:{server.port}"
        released(address, GRADE, BEFORE)
        assert 201 == ask(address, "POST", f"/v1/grades/{GRADE}/revisions", draft).status
        put(url, GRADE, BEFORE, lots)
        yield server


@contextmanager
def question(server: Server, **options: int) -> Iterator[Asked]:
    """What the draft would change; hung up at the end."""
    with socket.socket() as connection:
        for name, value in options.items():
            connection.setsockopt(socket.SOL_SOCKET, getattr(socket, name), value)
        connection.settimeout(SECONDS_TO_END)
        connection.connect(("127.0.0.1", server.port))
        connection.sendall(request("POST", f"/v1/grades/{GRADE}/revisions/2/impact", b"{}"))
        yield Asked(connection, _head(connection))


def _head(connection: socket.socket) -> Heard:
    """The head of the answer, read byte by byte so that nothing of its body is lost."""
    head = b""
    while not head.endswith(b"\r\n\r\n"):
        head += connection.recv(1)
    first, *fields = head.decode("latin-1").split("\r\n")[:-2]
    return Heard(int(first.split()[1]), {name.lower(): text for name, text in (each.split(": ", 1) for each in fields)}, b"")


def begun(asked: Asked) -> None:
    """Once its first line is there."""
    with closing(asked.told()) as told:
        next(told)


def workers_of(process: int) -> list[int]:
    """The processes that it has started to judge."""
    found = []
    for folder in Path("/proc").iterdir():
        try:
            if folder.name.isdigit() and f"PPid:\t{process}\n" in (folder / "status").read_text():
                found += [int(folder.name)] * (b"spawn_main" in (folder / "cmdline").read_bytes())
        except OSError:
            continue
    return found


def is_there(process: int) -> bool:
    """Whether it runs; what has ended and was not asked for is not there any more."""
    try:
        return "State:\tZ" not in Path(f"/proc/{process}/status").read_text()
    except OSError:
        return False


def wait_for(met: Callable[[], object]) -> None:
    """Until it is so."""
    end = time.monotonic() + SECONDS_TO_END
    while not met():
        assert time.monotonic() < end, "It did not come to be in time."
        time.sleep(WAIT_S)


def peak_mib(process: int) -> float:
    """The most memory that a process has had resident; 0 of one that has just ended."""
    text = Path(f"/proc/{process}/status").read_text()
    return int((text.partition("VmHWM:")[2].split() or ["0"])[0]) / 1024


def test_many_lots_are_judged_again_in_little_memory(tmp_path: Path, database_url: str) -> None:
    """Three in ten lie between the limits; neither the service nor a worker holds more for more lots."""
    with mill(tmp_path, MANY, database_url=database_url) as server:
        before, begun = peak_mib(server.process.pid), time.monotonic()
        peaks: dict[int, tuple[float, float]] = {}
        lots, last = 0, dict[str, Any]()
        with question(server) as asked:
            assert "content-length" not in asked.heard.headers
            for last in asked.told():
                lots += last["kind"] == "lot"
                if last["kind"] == "progress":
                    for worker in filter(is_there, workers_of(server.process.pid)):
                        peak = peak_mib(worker)
                        peaks[worker] = (peaks.get(worker, (peak, peak))[0], peak)
        seconds, more = time.monotonic() - begun, peak_mib(server.process.pid) - before
        grown = max(last - first for first, last in peaks.values())
        print(  # noqa: T201  what the long form is run for
            f"{MANY} lots in {seconds:.1f} s, {len(peaks)} workers: {more:.1f} MiB more, {grown:.1f} in a worker"
        )

        assert (MANY, MANY, MANY * 3 // 10, lots) == (last["judged"], last["of"], last["changed"], last["changed"])
        assert "error" not in last
        assert [MANY // 2, MANY * 3 // 10, MANY // 5] == [each["lots"] for each in last["outcomes"]]
        assert more < MOST_MIB_MORE
        assert grown < MOST_MIB_MORE
        wait_for(lambda: not workers_of(server.process.pid))


def test_who_hangs_up_is_not_worked_for_any_more(tmp_path: Path) -> None:
    """Somebody has asked for the wrong period and presses Ctrl+C."""
    with mill(tmp_path, SOME) as server:
        with question(server) as asked:
            begun(asked)
            wait_for(lambda: workers_of(server.process.pid))
        wait_for(lambda: "caller has hung up" in (tmp_path / LOG).read_text())

        assert [] == workers_of(server.process.pid)


def test_who_takes_nothing_is_not_worked_for_any_more(tmp_path: Path) -> None:
    """A client that hangs must not hold a place for ever; what it has not taken is not worked out meanwhile either."""
    with mill(tmp_path, SOME, TELLING, BODY_TIMEOUT="0.5") as server, question(server, SO_RCVBUF=4096):
        wait_for(lambda: workers_of(server.process.pid))
        wait_for(lambda: "caller has hung up" in (tmp_path / LOG).read_text())

        assert [] == workers_of(server.process.pid)


def test_a_stop_ends_it_with_a_line_that_says_so(tmp_path: Path) -> None:
    """What was judged by then is told, and that it is not all."""
    with mill(tmp_path, SOME) as server, question(server) as asked:
        told = asked.told()
        next(told)
        server.process.send_signal(signal.SIGTERM)
        last = list(told)[-1]

        assert ("summary", "stopping", SOME) == (last["kind"], last["error"]["code"], last["of"])
        assert last["judged"] < SOME
        assert 0 == server.process.wait(SECONDS_TO_END)


def test_workers_do_not_outlive_a_service_that_is_killed(tmp_path: Path) -> None:
    """Kill -9 leaves nobody the time to send them home."""
    with mill(tmp_path, SOME) as server, question(server) as asked:
        begun(asked)
        wait_for(lambda: workers_of(server.process.pid))
        workers = workers_of(server.process.pid)
        server.process.kill()

        wait_for(lambda: not any(map(is_there, workers)))


@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGTERM])
def test_a_worker_that_is_killed_is_told_of_and_the_next_question_is_answered(tmp_path: Path, how: signal.Signals) -> None:
    """A machine that runs out of memory kills whom it likes."""
    with mill(tmp_path, SOME) as server:
        with question(server) as asked:
            told = asked.told()
            next(told)
            wait_for(lambda: workers_of(server.process.pid))
            os.kill(workers_of(server.process.pid)[0], how)
            last = list(told)[-1]
        with question(server) as again:
            whole = list(again.told())[-1]

    assert ("not-ready", True) == (last["error"]["code"], last["judged"] < SOME)
    assert (SOME, None) == (whole["judged"], whole.get("error"))
