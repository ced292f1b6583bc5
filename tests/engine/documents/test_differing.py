"""Where two JSON documents differ."""

import pytest
from msgspec import UNSET

from service.engine.documents import Difference, differences


@pytest.mark.parametrize(
    ("then", "now", "found"),
    [
        ({"a": 1, "b": [1, {"c": "x"}]}, {"b": [1.0, {"c": "x"}], "a": 1}, []),
        ({"a": 1, "b": {"c": 1}}, {"a": 2, "b": {"c": 3}}, [("/a", 1, 2), ("/b/c", 1, 3)]),
        ({"a": 1}, {"b": 2}, [("/a", 1, UNSET), ("/b", UNSET, 2)]),
        ({"a": [1, 2, 3]}, {"a": [1, 5, 3]}, [("/a/1", 2, 5)]),
        ({"a": [1, 2]}, {"a": [2]}, [("/a", [1, 2], [2])]),
        ({"a": 1}, {"a": True}, [("/a", 1, True)]),
        ({"a": False}, {"a": 0}, [("/a", False, 0)]),
        ({"a": None}, {}, [("/a", None, UNSET)]),
        ({"a": [1]}, {"a": {"0": 1}}, [("/a", [1], {"0": 1})]),
        ({"m/kg~": 1}, {"m/kg~": 2}, [("/m~1kg~0", 1, 2)]),
        (1, "1", [("", 1, "1")]),
        ({"text": "x", "a": {"text": 1, "b": 1}}, {"a": {"text": 2, "b": 2}}, [("/a/b", 1, 2)]),
    ],
)
def test_every_place_is_told_with_its_pointer(then: object, now: object, found: list[tuple[str, object, object]]) -> None:
    """Whoever looks there sees both; what may differ is passed over wherever it stands."""
    assert [Difference(*each) for each in found] == list(differences(then, now, but={"text"}))
