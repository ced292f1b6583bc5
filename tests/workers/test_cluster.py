"""What-if on a Dask cluster of several worker processes: the very bytes that this machine's own processes give."""

import http.client
import json
import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any, NamedTuple
from urllib.parse import urlsplit

import pytest

from tests.support.grades import each, grade, mean
from tests.support.many_lots import put
from tests.support.servers import SECONDS_TO_END, free_port
from tests.support.services import ask, released, service_in

GRADE, LOTS, MANY = "TB-130", 1000, 10_000
BEFORE = grade(mean(id="strength", lower=300))
DRAFT = grade(mean(id="strength", lower=310), each(id="single", lower=299))
QUESTION = f"/v1/grades/{GRADE}/revisions/2/impact"
CLUSTER = """
import sys
from distributed import LocalCluster
of_processes = dict(threads_per_worker=1, processes=True, host="127.0.0.1", dashboard_address=None)
with LocalCluster(n_workers=int(sys.argv[1]), **of_processes) as it:
    print(it.scheduler_address, flush=True)
    sys.stdin.read()
"""
"""Its main module can be imported again by the processes that it starts, as it has no file."""


class Running(NamedTuple):
    """A cluster."""

    process: subprocess.Popen[str]
    scheduler: str
    """Its address."""

    def kill(self) -> None:
        """All of it at once, as when a machine loses its power."""
        os.killpg(self.process.pid, signal.SIGKILL)


@contextmanager
def cluster(workers: int) -> Iterator[Running]:
    """A cluster with so many worker processes."""
    command = [sys.executable, "-c", CLUSTER, str(workers)]
    pipes: dict[str, Any] = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "text": True}
    with subprocess.Popen(command, start_new_session=True, **pipes) as process:
        assert process.stdout
        try:
            yield Running(process, process.stdout.readline().strip())
        finally:
            process.communicate(timeout=SECONDS_TO_END)


def answer_in(folder: Path, **settings: str) -> Any:
    """The answer to the question, by a service with these settings."""
    with service_in(folder, **settings) as address:
        return ask(address, "POST", QUESTION, {})


def mill_in(folder: Path, lots: int) -> None:
    """A database with so many lots, and a draft."""
    with service_in(folder) as address:
        released(address, GRADE, BEFORE)
        assert 201 == ask(address, "POST", f"/v1/grades/{GRADE}/revisions", DRAFT).status
    put(f"sqlite:///{folder}/grades.db", GRADE, BEFORE, lots)


def test_a_cluster_gives_the_same_bytes_and_one_that_is_away_is_told_of(tmp_path: Path) -> None:
    """Several workers, in whatever order they are ready; and 503 where there is nobody to do it."""
    mill_in(tmp_path, LOTS)
    here = answer_in(tmp_path)
    with cluster(3) as running:
        there = answer_in(tmp_path, DASK_SCHEDULER=running.scheduler)
    with cluster(0) as empty:
        alone = answer_in(tmp_path, DASK_SCHEDULER=empty.scheduler)
    away = answer_in(tmp_path, DASK_SCHEDULER=f"tcp://127.0.0.1:{free_port()}")

    assert (200, 200) == (here.status, there.status)
    # Of ten lots three lie between the limits, and two more fail the single values that the draft looks at besides.
    assert f'"judged":{LOTS},"of":{LOTS},"changed":{LOTS // 2},'.encode() in here.body.splitlines()[-1]
    assert here.body == there.body
    assert [(503, "/problems/not-ready", "1")] * 2 == [
        (each.status, each.document["type"], each.headers["retry-after"]) for each in (alone, away)
    ]
    assert "has no workers" in alone.document["detail"]
    assert "does not answer" in away.document["detail"]


@pytest.mark.long("a cluster that is away from the start is told of in every run")
def test_a_cluster_that_is_lost_on_the_way_is_told_of_in_the_last_line(tmp_path: Path) -> None:
    """The answer has begun by then: it ends with what was judged, and that it is not all."""
    mill_in(tmp_path, MANY)
    with cluster(2) as running, service_in(tmp_path, DASK_SCHEDULER=running.scheduler) as address:
        connection = http.client.HTTPConnection(urlsplit(address).netloc, timeout=SECONDS_TO_END)
        with closing(connection):
            connection.request("POST", QUESTION, "{}", {"Content-Type": "application/json"})
            answer = connection.getresponse()
            answer.readline()
            running.kill()
            last = json.loads(answer.read().splitlines()[-1])

    assert (200, "summary", "not-ready") == (answer.status, last["kind"], last["error"]["code"])
    assert last["judged"] < last["of"]
    assert MANY == last["of"]
