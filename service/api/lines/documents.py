"""The documents of lines that only HTTP has."""

from msgspec import UNSET, Struct, UnsetType, field

from service.api.moments import Moment
from service.engine.documents import Inspection
from service.engine.switching import State, Switch


class ClassShown(Struct, frozen=True, kw_only=True):
    """Where a class, or a requirement by variables, of a line stands, and how it came there."""

    class_: str | UnsetType = field(default=UNSET, name="class")
    requirement: str | UnsetType = UNSET
    state: State
    inspection: Inspection
    """Of the lot that is opened next; after acceptance was discontinued, tightened once it is taken up again."""
    recent: list[bool]
    """Of the last lots under normal inspection, at most five, whether each was accepted."""
    accepted_in_a_row: int
    """Under the inspection in effect."""
    rejected: int
    """Under tightened inspection, since it is in effect."""
    switches: list[Switch]
    """All there were, the first one first, and why."""


class DecisionShown(Struct, frozen=True, kw_only=True):
    """A decision about the inspection of a line."""

    id: str
    at: Moment
    by: str
    inspection: Inspection
    reason: str
    class_: str | UnsetType = field(default=UNSET, name="class")
    requirement: str | UnsetType = UNSET


class LineShown(Struct, frozen=True, kw_only=True):
    """How severely the next lot of a line is inspected, and why."""

    grade: str
    line: str
    classes: list[ClassShown]
    """Those whose plan is of a table that switches, in the order of the revision in force."""
    decisions: list[DecisionShown]
    """In the order in which they were recorded."""
