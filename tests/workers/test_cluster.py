"""What-if on a Dask cluster of several worker processes: the very bytes that this machine's own processes give."""

import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from tests.support.grades import each, grade, mean
from tests.support.many_lots import put
from tests.support.servers import SECONDS_TO_END, free_port
from tests.support.services import ask, released, service_in

GRADE, LOTS = "TB-130", 1000
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


@contextmanager
def cluster(workers: int) -> Iterator[str]:
    """The address of the scheduler of a cluster with so many worker processes."""
    command = [sys.executable, "-c", CLUSTER, str(workers)]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout
        try:
            yield process.stdout.readline().strip()
        finally:
            process.communicate(timeout=SECONDS_TO_END)


def answer_in(folder: Path, **settings: str) -> Any:
    """The answer to the question, by a service with these settings."""
    with service_in(folder, **settings) as address:
        return ask(address, "POST", QUESTION, {})


def mill_in(folder: Path) -> None:
    """A database with lots and a draft."""
    with service_in(folder) as address:
        released(address, GRADE, BEFORE)
        assert 201 == ask(address, "POST", f"/v1/grades/{GRADE}/revisions", DRAFT).status
    put(f"sqlite:///{folder}/grades.db", GRADE, BEFORE, LOTS)


def test_a_cluster_gives_the_same_bytes_and_one_that_is_away_is_told_of(tmp_path: Path) -> None:
    """Several workers, in whatever order they are ready; and 503 where there is nobody to do it."""
    mill_in(tmp_path)
    here = answer_in(tmp_path)
    with cluster(3) as scheduler:
        there = answer_in(tmp_path, DASK_SCHEDULER=scheduler)
    with cluster(0) as empty:
        alone = answer_in(tmp_path, DASK_SCHEDULER=empty)
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
