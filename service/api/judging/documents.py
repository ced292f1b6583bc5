"""The document of a check."""

from msgspec import UNSET, Struct, UnsetType

from service.engine.documents import Code, Name, RevisionNumber, Text, UnitName


class ReadingToCheck(Struct, frozen=True, forbid_unknown_fields=True):
    """One reading, and the grade that it is checked against, or the lot that it is of."""

    characteristic: Name
    unit: UnitName
    value: float
    grade: Code | UnsetType = UNSET
    revision: RevisionNumber | UnsetType = UNSET
    lot: Code | UnsetType = UNSET
    """An open lot or one that was: its own revision judges, and what is outside in it already counts."""
    method: Text | UnsetType = UNSET
    """By which method the reading was taken."""
