"""The document of a check, as the OpenAPI document shows it."""

from msgspec import UNSET, Struct, UnsetType

from service.engine.documents import Code, Name, RevisionNumber, Text, UnitName


class ReadingToCheck(Struct, frozen=True, forbid_unknown_fields=True):
    """One reading, and the grade to check it against, or the lot that it belongs to."""

    characteristic: Name
    unit: UnitName
    value: float
    grade: Code | UnsetType = UNSET
    revision: RevisionNumber | UnsetType = UNSET
    lot: Code | UnsetType = UNSET
    """An open or closed lot: its own revision judges, and its readings already outside the limits count."""
    method: Text | UnsetType = UNSET
    """The test method of the reading."""
