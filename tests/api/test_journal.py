"""What was changed can be read over HTTP, some entries at a time."""

from pathlib import Path

from tests.support.grades import grade, mean
from tests.support.services import ask, released, service_in


def test_entries_come_in_pages_in_their_order(tmp_path: Path) -> None:
    """An auditor reads on where the page before ended, and misses none."""
    with service_in(tmp_path) as address:
        released(address, "TB-130", grade(mean(lower=1400)))
        released(address, "TB-150", grade(mean(lower=1200)))
        first = ask(address, "GET", "/v1/journal?limit=3").document
        last = ask(address, "GET", f"/v1/journal?limit=3&after={first['next']}").document

    told = [(each["entry"]["number"], each["entry"]["what"]) for each in (*first["entries"], *last["entries"])]
    assert [(1, "draft-added"), (2, "revision-released"), (3, "draft-added"), (4, "revision-released")] == told
    assert (3, False) == (first["next"], "next" in last)
    assert first["entries"][-1]["digest"] == last["entries"][0]["entry"]["previous"]
