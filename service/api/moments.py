"""Moments as callers write them, converted to UTC."""

from datetime import UTC, datetime
from typing import Annotated

from msgspec import Meta, UnsetType

from service.engine.documents import Flaw, FlawedDocumentError

Moment = Annotated[datetime, Meta(tz=True)]


def in_utc(moment: datetime | UnsetType | None, at: str) -> datetime | None:
    """The moment in UTC; None where none is given.

    at  JSON Pointer for the flaw

    Raises FlawedDocumentError where it is outside the years 1 to 9999 in UTC, which its offset can cause.
    """
    try:
        return moment.astimezone(UTC) if moment else None
    except OverflowError as error:
        text = "In UTC this is outside the years 1 to 9999. Give another date and time."
        raise FlawedDocumentError([Flaw("not-a-moment", text, at)]) from error
