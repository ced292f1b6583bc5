"""What differs between two revisions."""

from typing import Any

import pytest

from service.usecases.grades.changes import Change, changes_between

RUNNAGE = {"name": "runnage", "unit": "m/kg"}
STRENGTH = {"id": "strength", "kind": "mean", "of": "breaking_force", "limits": {"lower": 1400}}
DIRECTION = {"id": "direction", "kind": "declared", "of": "twist_direction", "one_of": ["Z"]}


def document(*requirements: dict[str, Any], **members: object) -> dict[str, Any]:
    """A specification with these requirements."""
    return {"title": "Twine", "characteristics": [RUNNAGE], "requirements": list(requirements), **members}


def test_what_is_added_removed_and_altered_is_named() -> None:
    """A buyer reads what a new edition asks for without comparing line by line."""
    old = document(STRENGTH, DIRECTION)
    new = document({**STRENGTH, "limits": {"lower": 1500}, "clause": "3.2"}, {**DIRECTION, "id": "twist"})

    assert [
        Change(requirement="direction", change="removed"),
        Change(requirement="strength", change="altered", fields=["clause", "limits"]),
        Change(requirement="twist", change="added"),
    ] == changes_between(old, new)


def test_another_order_is_no_change() -> None:
    """No lot is judged otherwise by it."""
    assert [] == changes_between(document(STRENGTH, DIRECTION), document(DIRECTION, STRENGTH))


def test_the_document_and_its_characteristics_come_first() -> None:
    """A new title and another unit are changes too."""
    new = document(title="Baler twine", characteristics=[{**RUNNAGE, "unit": "m/g"}], article="twine")

    assert [
        Change(change="altered", fields=["article", "title"]),
        Change(characteristic="runnage", change="altered", fields=["unit"]),
    ] == changes_between(document(), new)


@pytest.mark.parametrize(("old", "new", "is_changed"), [(1, 1.0, False), (1, True, True), (0, False, True), ("1", 1, True)])
def test_values_are_compared_as_json_compares_them(old: object, new: object, *, is_changed: bool) -> None:
    """1 and 1.0 are one number; true is not a number."""
    found = changes_between(document({**DIRECTION, "one_of": [old]}), document({**DIRECTION, "one_of": [new]}))

    assert is_changed == bool(found)
