"""What others rely on by name does not change unseen."""

import json

import pytest

from tests.contract.wire import WIRE, wire

COMMITTED = json.loads(WIRE.read_text(encoding="utf-8"))


@pytest.mark.parametrize("part", COMMITTED)
def test_names_on_the_wire_are_the_committed_ones(part: str) -> None:
    """A Python name may change; a field, code, metric, setting, command or table changes only together with `wire.json`."""
    assert COMMITTED[part] == json.loads(json.dumps(wire()[part]))


def test_no_part_of_the_wire_is_empty() -> None:
    """A part that is no longer found would else agree with nothing."""
    assert all(wire().values())
    assert set(wire()) == set(COMMITTED)
