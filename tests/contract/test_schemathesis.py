"""Schemathesis reads the published document and looks for answers that it does not allow, in sequences of requests too."""

import json
import os
import re
import subprocess
import sys
from pathlib import Path

from service.api.openapi import document
from service.api.routes import routes
from tests.support.services import ask

# 412, 422 and 428 to what the schema allows: an unknown grade, limits upside down, a stale tag. No schema says these.
# 413: a list that is longer than it may be can make the body larger than it may be, which is told first.
CONFIGURATION = """
[checks.positive_data_acceptance]
expected-statuses = ["2xx", "3xx", "404", "409", "412", "422", "428"]
[checks.negative_data_rejection]
expected-statuses = ["400", "404", "405", "409", "412", "413", "415", "422", "428"]
# Every corner of a specification's schema is thousands of requests, minutes of them; they are left to the other phases.
[[operations]]
include-operation-id = ["addDraft", "replaceSpecification", "reviewSpecification", "judgeLot", "drawLot"]
[operations.phases.coverage]
enabled = false
# Of many operations few sequences come by the links that the document states.
[phases.stateful.generation]
max-examples = 100
"""
ROWS = """
import json

import schemathesis

@schemathesis.serializer("application/x-ndjson")
def as_they_are(context, value):
    return value.encode("utf-8", "replace") if isinstance(value, str) else json.dumps(value).encode()
"""
"""Lines of JSON are a type that it cannot write by itself."""
SECONDS_AT_MOST = 300
"""A run takes less than a minute on a machine that does nothing else."""


def run(folder: Path, schema: str, *options: str) -> tuple[int, str]:
    """(exit status, report) of a run that gives the same requests each time."""
    (folder / "schemathesis.toml").write_text(CONFIGURATION, encoding="utf-8")
    (folder / "rows.py").write_text(ROWS, encoding="utf-8")
    words = ["run", schema, "--checks", "all", "--seed", "1", "--generation-deterministic", "--no-color", *options]
    ended = subprocess.run(
        [sys.executable, "-m", "schemathesis.cli", *words],
        cwd=folder,
        env={**os.environ, "SCHEMATHESIS_HOOKS": "rows"},
        capture_output=True,
        text=True,
        timeout=SECONDS_AT_MOST,
        check=False,
    )
    return ended.returncode, ended.stdout[-8000:] + ended.stderr[-2000:]


def test_schemathesis_finds_nothing(service_on_each: str, tmp_path: Path) -> None:
    """No fault of ours, no undocumented status, no answer of another shape, no wrong method taken; on both databases."""
    status, report = run(tmp_path, f"{service_on_each}/openapi.json", "--max-examples", "40")

    assert 0 == status, report
    for phase in ("Examples", "Coverage", "Fuzzing", "Stateful"):
        assert f"✅ {phase}\n" in report
    # It leaves out the document's own path, as it has read it there.
    assert len([route for route in routes() if route.in_document]) - 1 == int(found(r"Tested: +([0-9]+)", report))
    assert 5 <= int(found(r"API Links: +([0-9]+) covered", report))
    assert {"ready": True, "reasons": []} == ask(service_on_each, "GET", "/health/ready").document


def test_an_answer_of_another_shape_is_found(service: str, tmp_path: Path) -> None:
    """A run that finds nothing proves nothing."""
    promised = document(routes())
    promised["paths"]["/v1/units"]["get"]["responses"]["200"]["content"]["application/json"]["schema"] = {"required": ["unit"]}

    status, report = run_against(service, promised, "/v1/units", tmp_path)

    assert 1 == status
    assert '"unit" is a required property' in report


def test_a_status_that_is_not_documented_is_found(service: str, tmp_path: Path) -> None:
    """Nothing is released here, so the example's grade is not known."""
    promised = document(routes())
    del promised["paths"]["/v1/checks"]["post"]["responses"]["422"]

    status, report = run_against(service, promised, "/v1/checks", tmp_path)

    assert 1 == status
    assert "Undocumented status code" in report


def run_against(service: str, promised: object, path: str, folder: Path) -> tuple[int, str]:
    """What comes of the examples of one path, if the document promised this."""
    (folder / "openapi.json").write_text(json.dumps(promised), encoding="utf-8")
    phases = "examples,fuzzing"
    return run(folder, "openapi.json", "--url", service, "--phases", phases, "--include-path", path, "--max-examples", "1")


def found(pattern: str, text: str) -> str:
    """What a pattern's group holds in the text."""
    match = re.search(pattern, text)
    assert match, text
    return match[1]
