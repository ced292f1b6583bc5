"""Schemathesis follows the document's links from a lot that is opened to a verdict that is judged again, on both databases."""

import re
from collections import defaultdict
from collections.abc import Iterator, Mapping
from pathlib import Path

from service.api.document.links import LINKS
from tests.support.schemathesis_runs import found, run
from tests.support.services import ask

OF_A_LOT = {link.operation for link in LINKS.values() if link.parameters.get("lot")} - {"addAttributes", "moveLot"} | {
    "openLot"
}
"""What a lot goes through. Left out is what is asked for once, and what takes a second revision."""
FROM = "listLots"
"""It begins there, as everything else is about something that has to be there."""
CONFIGURATION = """
[phases.stateful]
max-steps = 40
# By the links that the document states, and no others that are guessed.
[phases.stateful.inference]
algorithms = []
"""
OPEN = {"openLot", "showLot", "showEvidence", "recordReadings", "showBatch", "strike"}
AFTERWARDS = {name for name in OF_A_LOT if re.search("Claim|Concession|Disposition", name)} | {
    "openLot",
    "recordReadings",
    "closeLot",
    "disposeOfLot",
}
RUNS = ((OPEN, 1), (AFTERWARDS, 1), (OF_A_LOT, 1), (OF_A_LOT, 2))
"""Operations, and a seed: lots that stay open, as one that is closed takes no strike; what comes after a verdict; and the whole
of it from two seeds.

Each is some 20 sequences of up to 40 requests, and ends early where what another one has left behind gets in its way.
"""


def done(address: str) -> Mapping[str, int]:
    """How often each operation has been answered by what it promises, by what the service itself has counted."""
    counted: dict[str, int] = defaultdict(int)
    figures = ask(address, "GET", "/metrics").body.decode()
    for labels, number in re.findall(r"^markeryarn_answers_total\{([^}]*)\} ([0-9.]+)$", figures, re.MULTILINE):
        named = dict(re.findall(r'(\w+)="([^"]*)"', labels))
        if named["status"].startswith("2"):
            counted[named["operation"]] += int(float(number))
    return counted


def agreements(address: str) -> Iterator[bool]:
    """Of each verdict of each lot, whether it comes out the same when it is judged again."""
    for lot in ask(address, "GET", "/v1/lots").document["lots"]:
        verdicts = f"/v1/lots/{lot['lot']}/verdicts"
        for each in ask(address, "GET", verdicts).document["verdicts"]:
            yield ask(address, "POST", f"{verdicts}/{each['number']}/replay").document["agrees"]


def test_sequences_over_the_links_find_nothing_and_reach_everything(service_on_each: str, tmp_path: Path) -> None:
    """No fault, no answer that is not documented, in whatever order a lot is opened, measured, closed, corrected and shown."""
    for operations, seed in RUNS:
        named = [word for operation in sorted({FROM, *operations}) for word in ("--include-operation-id", operation)]
        options = ("--phases", "stateful", "--mode", "positive", "--max-examples", "100", *named)
        schema, hooks = f"{service_on_each}/openapi.json", "tests.support.stations_and_erp"
        status, report = run(tmp_path, schema, *options, seed=seed, hooks=hooks, configuration=CONFIGURATION)
        assert 0 == status, report
        assert "✅ Stateful\n" in report
        assert len(operations) <= int(found(r"API Links: +([0-9]+) covered", report)), report

    reached = done(service_on_each)
    assert {} == {operation: 0 for operation in OF_A_LOT if not reached[operation]}
    assert {True} == set(agreements(service_on_each))
