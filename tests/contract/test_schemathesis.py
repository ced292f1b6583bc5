"""Schemathesis reads the published document and looks for answers that it does not allow, in sequences of requests too."""

import json
from pathlib import Path

from tests.support.applications import HANDLERS, the_document
from tests.support.schemathesis_runs import found, run
from tests.support.services import ask
from tests.support.sizes import of_two

EXAMPLES = str(of_two(12, 40))
"""Of each operation at most, besides those that the document shows and those at the edges of its schemas."""
LINKS = of_two(1, 5)
"""So many are followed at least; that all are is shown by test_sequences.py."""


def test_schemathesis_finds_nothing(service_on_each: str, tmp_path: Path) -> None:
    """No fault of ours, no undocumented status, no answer of another shape, no wrong method taken; on both databases."""
    status, report = run(tmp_path, f"{service_on_each}/openapi.json", "--max-examples", EXAMPLES)

    assert 0 == status, report
    for phase in ("Examples", "Coverage", "Fuzzing", "Stateful"):
        assert f"✅ {phase}\n" in report
    # It leaves out the document's own path, as it has read it there.
    assert len(HANDLERS) - 1 == int(found(r"Tested: +([0-9]+)", report))
    assert LINKS <= int(found(r"API Links: +([0-9]+) covered", report))
    assert {"ready": True, "reasons": []} == ask(service_on_each, "GET", "/health/ready").document


def test_an_answer_of_another_shape_is_found(service: str, tmp_path: Path) -> None:
    """A run that finds nothing proves nothing."""
    promised = the_document()
    promised["paths"]["/v1/units"]["get"]["responses"]["200"]["content"]["application/json"]["schema"] = {"required": ["unit"]}

    status, report = run_against(service, promised, "/v1/units", tmp_path)

    assert 1 == status
    assert '"unit" is a required property' in report


def test_a_status_that_is_not_documented_is_found(service: str, tmp_path: Path) -> None:
    """Nothing is released here, so the example's grade is not known."""
    promised = the_document()
    del promised["paths"]["/v1/checks"]["post"]["responses"]["422"]

    status, report = run_against(service, promised, "/v1/checks", tmp_path)

    assert 1 == status
    assert "Undocumented status code" in report


def run_against(service: str, promised: object, path: str, folder: Path) -> tuple[int, str]:
    """What comes of the examples of one path, if the document promised this."""
    (folder / "openapi.json").write_text(json.dumps(promised), encoding="utf-8")
    phases = "examples,fuzzing"
    return run(folder, "openapi.json", "--url", service, "--phases", phases, "--include-path", path, "--max-examples", "1")
