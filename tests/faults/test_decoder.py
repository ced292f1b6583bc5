"""Whatever bytes are sent as a body, the answer is a verdict or says what is wrong with them."""

import importlib.util
import json
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.faults.bodies import PATHS, Within, shown, within
from tests.faults.sizes import of_two

EXAMPLES = of_two(300, 20_000)
RUNS = of_two(15_000, 2_000_000)
MOST_GROWTH_MIB = of_two(16, 128)
"""Of the fuzzer's process after the first tenth of its runs: by its corpus, and compiled grades, whose shelf has its own bound.

The first tenth has filled what is made once. A leak of 4 KiB a body would be 53 MiB in the short form, one of 100 bytes 172 in
the long one.
"""
WORDS = sorted(
    {word for sent in shown() for word in json.loads(sent.body)} | {"lot", "series", "values", "of", "limits", "kind", "unit"}
)
LEAVES = st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=9) | st.sampled_from(WORDS)
ANY_JSON = st.recursive(
    LEAVES,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.sampled_from(WORDS), inner, max_size=5),
    max_leaves=20,
)
LASTING = settings(max_examples=EXAMPLES, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Within]:
    """One within this process."""
    with within(tmp_path_factory.mktemp("within")) as made:
        yield made


@LASTING
@given(path=st.sampled_from(PATHS), body=st.binary(max_size=200))
def test_any_bytes_are_answered(service: Within, path: str, body: bytes) -> None:
    """A station's cable is loose: what comes is noise."""
    assert service.status_of(path, body) in (200, 400, 422)


@LASTING
@given(path=st.sampled_from(PATHS), document=ANY_JSON)
def test_any_json_is_answered(service: Within, path: str, document: object) -> None:
    """A program that was written from memory: some words are right, and hardly anything fits."""
    assert service.status_of(path, json.dumps(document).encode()) in (200, 400, 422)


@LASTING
@given(sent=st.sampled_from(shown()), at=st.floats(0, 1), length=st.integers(0, 9), other=st.binary(max_size=9))
def test_a_damaged_body_is_answered(service: Within, sent: tuple[str, bytes], at: float, length: int, other: bytes) -> None:
    """A few bytes of a good body are lost or others."""
    path, body = sent
    place = int(at * len(body))

    assert service.status_of(path, body[:place] + other + body[place + length :]) in (200, 400, 422)


def test_a_fuzzer_led_by_coverage_finds_no_fault(tmp_path: Path) -> None:
    """Somebody who means harm tries until a branch is reached that nobody thought of; memory must not grow by it either."""
    if importlib.util.find_spec("atheris") is None:
        pytest.skip("atheris is not installed; it has wheels for Linux and some versions of Python alone.")
    # What libFuzzer takes for its own memory is the parent's where that held more, so it is told of no bound.
    options = ["-rss_limit_mb=0", "-timeout=300", "-max_len=8192", "-seed=1", f"-artifact_prefix={tmp_path}/"]
    words = [sys.executable, "-m", "tests.faults.fuzzing", str(tmp_path), str(RUNS), *options]
    done = subprocess.run(words, capture_output=True, text=True, check=False)
    held = [float(line) for line in (tmp_path / "held").read_text(encoding="ascii").split()]
    print(done.stderr[-600:], "MiB:", *(f"{each:.1f}" for each in held))  # noqa: T201  shown by -s, for the report of the long form

    assert 0 == done.returncode, done.stderr[-6000:]
    assert 10 == len(held)
    assert MOST_GROWTH_MIB > held[-1] - held[0]
