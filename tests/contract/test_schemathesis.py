"""Schemathesis reads the published document and looks for answers that it does not allow, in sequences of requests too."""

import subprocess
import sys
from pathlib import Path

import pytest

from tests.support.servers import serving

# 412, 422 and 428 to what the schema allows: an unknown grade, limits upside down, a stale tag. No schema says these.
CONFIGURATION = """
[checks.positive_data_acceptance]
expected-statuses = ["2xx", "3xx", "404", "409", "412", "422", "428"]
[checks.negative_data_rejection]
expected-statuses = ["400", "404", "405", "409", "412", "415", "422", "428"]
"""
PAGES = ("--exclude-path", "/docs", "--exclude-path", "/openapi.json", "--exclude-path", "/metrics")
"""For people and for Prometheus; they take nothing."""
SECONDS_AT_MOST = 600


@pytest.mark.parametrize("phases", ["examples,fuzzing,stateful", "coverage"])
def test_schemathesis_finds_nothing(tmp_path: Path, phases: str) -> None:
    """No fault of ours, no undocumented status, no answer of another shape, no wrong method taken."""
    (tmp_path / "schemathesis.toml").write_text(CONFIGURATION)
    with serving(tmp_path) as server:
        address = f"http://127.0.0.1:{server.port}/openapi.json"
        options = ["--max-examples", "5", "--seed", "1", "--no-color", "--phases", phases, *PAGES]
        ended = subprocess.run(
            [sys.executable, "-m", "schemathesis.cli", "run", address, *options],
            cwd=tmp_path,
            capture_output=True,
            text=True,
            timeout=SECONDS_AT_MOST,
            check=False,
        )

    assert 0 == ended.returncode, ended.stdout[-5000:] + ended.stderr[-2000:]
