"""Documents of dispositions that only HTTP has: concessions and dispositions with who, when, and what they rest on."""

from msgspec import UNSET, Struct, UnsetType, field

from service.api.moments import Moment
from service.engine.ledger import Disposing, Purpose


class ConcessionShown(Struct, frozen=True, kw_only=True):
    """A concession for a lot; it never changes."""

    lot: str
    concession: str
    granted_at: Moment
    by: str
    """Who granted it; another person disposes of the lot by it."""
    authority: str
    reason: str
    for_: Purpose = field(name="for")
    grade: str | UnsetType = UNSET
    """As which the lot may go out; of a regrade only."""
    verdict: int | UnsetType = UNSET
    """The number of the verdict that it makes good; left out where the lot had none. It is no longer good after a later one."""


class ConcessionList(Struct, frozen=True):
    """Concessions of a lot, the first one first."""

    lot: str
    concessions: list[ConcessionShown]
    next: int | UnsetType = UNSET
    """Give it as `after` to get the next ones; left out at the end."""


class DispositionShown(Struct, frozen=True, kw_only=True):
    """What was done with a lot from then on; all but `is_of_earlier_verdict` never changes."""

    lot: str
    number: int
    """From 1, in the order in which the lot's dispositions were recorded; the last one counts."""
    recorded_at: Moment
    by: str
    id: str
    disposition: Disposing
    reason: str
    grade: str | UnsetType = UNSET
    """As which the lot goes out; of a regrade only."""
    revision: int | UnsetType = UNSET
    """Of that grade, in force then."""
    concession: str | UnsetType = UNSET
    """The one that allowed it."""
    verdict: int | UnsetType = UNSET
    """The number of the verdict that it rests on, the newest by then; left out where the lot had none."""
    is_of_earlier_verdict: bool
    """Whether a verdict was recorded since."""
    one_person: bool | UnsetType = UNSET
    """True where the same person had granted the concession, which a setting allowed."""


class DispositionList(Struct, frozen=True):
    """Dispositions of a lot, the first one first."""

    lot: str
    dispositions: list[DispositionShown]
    next: int | UnsetType = UNSET
    """Give it as `after` to get the next ones; left out at the end."""
