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

from tests.faults.bodies import PATHS, Sent, Within, shown, within
from tests.support.sizes import of_two

EXAMPLES = of_two(600, 50_000)
RUNS = 2_000_000
MOST_GROWTH_MIB = 128
"""Of the fuzzer's process after the first tenth of its runs: by its corpus, and compiled grades, whose cache has its own bound.

The first tenth has filled what is made once. A leak of 100 bytes a body would be 172 MiB.
"""


def damaged(sent: Sent, at: float, length: int, other: bytes) -> Sent:
    """A good body, some bytes of which are lost or others."""
    place = int(at * len(sent.body))
    return Sent(sent.path, sent.body[:place] + other + sent.body[place + length :])


WORDS = sorted(
    {word for sent in shown() for word in json.loads(sent.body)} | {"lot", "series", "values", "of", "limits", "kind", "unit"}
)
LEAVES = st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=9) | st.sampled_from(WORDS)
DOCUMENTS = st.recursive(
    LEAVES,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.sampled_from(WORDS), inner, max_size=5),
    max_leaves=20,
)
PATH = st.sampled_from(PATHS)
NOISE = st.builds(Sent, PATH, st.binary(max_size=200))
ANY_JSON = st.builds(Sent, PATH, DOCUMENTS.map(json.dumps).map(str.encode))
DAMAGED = st.builds(damaged, st.sampled_from(shown()), st.floats(0, 1), st.integers(0, 9), st.binary(max_size=9))


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Within]:
    """One within this process."""
    with within(tmp_path_factory.mktemp("within")) as made:
        yield made


@settings(max_examples=EXAMPLES, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(sent=NOISE | ANY_JSON | DAMAGED)
def test_whatever_is_sent_is_answered(service: Within, sent: Sent) -> None:
    """A loose cable sends noise, a program written from memory words that hardly fit, a bad line a good body in part."""
    assert service.status_of(sent.path, sent.body) in (200, 400, 422)


@pytest.mark.long("what is likely is tried by the test above; a fuzzer led by coverage needs its time")
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
