"""Documents of concessions and dispositions that only the HTTP layer has: with who, when, and the verdict they rest on."""

from msgspec import UNSET, Struct, UnsetType, field

from service.api.moments import Moment
from service.engine.ledger import Disposing, Purpose


class ConcessionShown(Struct, frozen=True, kw_only=True):
    """A concession for a lot; never changes."""

    lot: str
    concession: str
    granted_at: Moment
    by: str
    """Who granted it; another person has to dispose of the lot by it."""
    authority: str
    reason: str
    for_: Purpose = field(name="for")
    grade: str | UnsetType = UNSET
    """The grade as which the lot may go out; for a regrade only."""
    verdict: int | UnsetType = UNSET
    """Number of the verdict that it overrides; left out where the lot had none. A later verdict ends its effect."""


class ConcessionList(Struct, frozen=True):
    """Concessions of a lot, the oldest first."""

    lot: str
    concessions: list[ConcessionShown]
    next: int | UnsetType = UNSET
    """Send it as `after` to get the next page; left out on the last page."""


class DispositionShown(Struct, frozen=True, kw_only=True):
    """A disposition of a lot; only `is_of_earlier_verdict` ever changes."""

    lot: str
    number: int
    """From 1, in the order in which the lot's dispositions were recorded; the last one counts."""
    recorded_at: Moment
    by: str
    id: str
    disposition: Disposing
    reason: str
    grade: str | UnsetType = UNSET
    """The grade as which the lot goes out; for a regrade only."""
    revision: int | UnsetType = UNSET
    """Revision of that grade that was in force then."""
    concession: str | UnsetType = UNSET
    """The concession that allowed it."""
    verdict: int | UnsetType = UNSET
    """Number of the verdict that it rests on, the newest one then; left out where the lot had none."""
    is_of_earlier_verdict: bool
    """True where a verdict was recorded after it."""
    one_person: bool | UnsetType = UNSET
    """True where the same person had granted the concession, as a setting allowed."""


class DispositionList(Struct, frozen=True):
    """Dispositions of a lot, the oldest first."""

    lot: str
    dispositions: list[DispositionShown]
    next: int | UnsetType = UNSET
    """Send it as `after` to get the next page; left out on the last page."""
