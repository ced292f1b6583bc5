"""The engine and the simple judge agree where readings are remarked, implausible, of composites, or go with a moisture."""

from random import Random

import pytest

from tests.engine.test_agreement import disagreements
from tests.support.remarking import moist_lot, remarked_lot
from tests.support.sizes import AGREEMENT

BATCHES = 4
CASES = AGREEMENT // 8


@pytest.mark.parametrize("batch", range(BATCHES))
def test_remarked_lots_agree(batch: int) -> None:
    """A lot with slips, breaks outside the marks, struck readings and composites comes out as by hand."""
    for seed in range(batch, CASES, BATCHES):
        assert (seed, []) == (seed, disagreements(remarked_lot(Random(seed))))


@pytest.mark.parametrize("batch", range(BATCHES))
def test_moist_lots_agree(batch: int) -> None:
    """A mass at the agreed regain is exact, and lies on its own side of its limit."""
    for seed in range(batch, CASES, BATCHES):
        assert (seed, []) == (seed, disagreements(moist_lot(Random(seed))))
