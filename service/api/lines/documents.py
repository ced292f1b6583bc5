"""Documents of lines that only the HTTP layer has."""

from msgspec import UNSET, Struct, UnsetType, field

from service.api.moments import Moment
from service.engine.documents import Inspection
from service.engine.switching import State, Switch


class ClassShown(Struct, frozen=True, kw_only=True):
    """The switching state of a class, or of a requirement by variables, on a line, with its history."""

    class_: str | UnsetType = field(default=UNSET, name="class")
    requirement: str | UnsetType = UNSET
    state: State
    inspection: Inspection
    """Inspection of the lot opened next; while acceptance is discontinued, that of its resumption: tightened."""
    recent: list[bool]
    """Whether each of the last lots under normal inspection, at most five, was accepted."""
    accepted_in_a_row: int
    """Number of lots accepted in a row under the inspection in effect."""
    rejected: int
    """Number of lots rejected under tightened inspection since it took effect."""
    switches: list[Switch]
    """All switches with their reasons, the oldest first."""


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
    """The severity of inspection of a line's next lot, and why."""

    grade: str
    line: str
    classes: list[ClassShown]
    """The classes whose plan's table has switching rules, in the order of the revision in force."""
    decisions: list[DecisionShown]
    """Decisions in the order in which they were recorded."""
