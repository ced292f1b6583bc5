"""The document of a question about a revision's impact: which closed lots to judge by it."""

from typing import Annotated

from msgspec import UNSET, Meta, Struct, UnsetType, field

from service.api.moments import Moment
from service.engine.documents import Code

MOST_LINES = 100
MostLots = Annotated[int, Meta(ge=1, le=1_000_000_000)]


class Period(Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """Lots by the moment of their closing; all lots of the grade where nothing is given."""

    from_: Moment | UnsetType = field(name="from", default=UNSET)
    """Only lots closed at this moment or later; a lot that waits for readings counts from its first verdict."""
    until: Moment | UnsetType = UNSET
    """Only lots closed before this moment."""
    lines: Annotated[list[Code], Meta(min_length=1, max_length=MOST_LINES)] | UnsetType = UNSET
    """Only lots from one of these lines."""
    limit: MostLots | UnsetType = UNSET
    """Only this many lots, the newest ones."""
