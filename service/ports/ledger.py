"""What use cases need of the ledger of lots, and how it can refuse."""

from collections.abc import Callable, Sequence
from typing import NamedTuple, Protocol

from msgspec import Struct

from service.engine.documents import Flaw
from service.engine.ledger import Change, Disposing, KnownChange, LotHistory, LotOutcome, LotRow
from service.ports.catalogue import Moment, StateError
from service.ports.instruments import InstrumentRow


class LotUnknownError(StateError):
    """There is no lot of this id."""


class ChangeUnknownError(StateError):
    """The lot has no batch, or no other change, under this id."""


class VerdictUnknownError(StateError):
    """The lot has no verdict of this number."""


class LotIsClosedError(StateError):
    """The lot takes nothing more in its state."""


class LotIsAlteredError(StateError):
    """What is kept of the lot does not follow from its changes, so that nothing can rest on it."""


class LotHasNoVerdictError(StateError):
    """Nothing was judged of the lot yet, so nothing can be corrected."""


class LotStatedOtherwiseError(StateError):
    """What is told of the lot itself is told already, and differs."""


class RevisionIsNotNewerError(StateError):
    """A lot moves to a newer revision only."""


class ContentDiffersError(StateError):
    """Under this id something else was sent before; `flaws` says where both differ."""

    def __init__(self, text: str, flaws: Sequence[Flaw]) -> None:
        """Keep the sentence and the differences."""
        super().__init__(text)
        self.flaws = tuple(flaws)


class ConcessionNeededError(StateError):
    """The lot does not go out so by its verdict alone.

    `flaws` says which requirements of another grade it does not meet, or at which line acceptance is discontinued.
    """

    def __init__(self, text: str, flaws: Sequence[Flaw] = ()) -> None:
        """Keep the sentence and the flaws."""
        super().__init__(text)
        self.flaws = tuple(flaws)


class ClaimWithoutVerdictError(StateError):
    """The lot has no verdict yet that a claim could be against."""


class ClaimIsSettledError(StateError):
    """The claim has ended otherwise."""


class LotsQuery(Struct, frozen=True, kw_only=True):
    """Which lots a list is to hold; None asks nothing."""

    grade: str | None = None
    state: str | None = None
    outcome: str | None = None
    disposition: Disposing | None = None
    line: str | None = None
    opened_from: Moment | None = None
    opened_until: Moment | None = None
    attribute: tuple[str, str] | None = None
    after: str = ""
    limit: int = 100


class NewVerdict(Struct, frozen=True, kw_only=True):
    """A verdict that is to be kept beside the change that tells of it, with all that it rests on."""

    number: int
    outcome: LotOutcome
    grade: str
    revision: int
    evidence: bytes
    """The document that was judged."""
    verdict: bytes
    """As it is served for ever."""
    results: bytes = b"[]"
    """What it says to switching, as JSON."""


class VerdictRow(Struct, frozen=True, kw_only=True):
    """A verdict that is kept."""

    lot: str
    number: int
    at: Moment
    by: str
    outcome: LotOutcome
    grade: str
    revision: int
    evidence: bytes
    verdict: bytes


class NewChange(Struct, frozen=True, kw_only=True):
    """A change that is to be kept."""

    by: str
    kind: str
    key: str
    digest: str
    document: bytes
    verdict: NewVerdict | None = None
    """Kept together with a change that tells of one."""


class PendingLot(Protocol):
    """A lot as a change finds it, what stands before it in the same group included."""

    @property
    def row(self) -> LotRow | None:
        """The lot as its changes make it; None where it is not open yet."""

    @property
    def now(self) -> Moment:
        """The database's clock."""

    @property
    def committed(self) -> LotHistory:
        """All that was told before the group."""

    @property
    def instrument(self) -> InstrumentRow | None:
        """The newest version of the instrument that the change names; None where it names none that is registered."""

    def find(self, key: str) -> KnownChange | None:
        """The change under this id."""

    def whole(self) -> LotHistory:
        """All that was told of it. Where something that comes before in the group is not in yet, the change is put off."""


class Decided(Struct, frozen=True, kw_only=True):
    """What becomes of a change: nothing where the same was done before."""

    changes: Sequence[NewChange] = ()
    """From them follows what the lot is afterwards."""
    number: int = 0
    """Of the change that was the same, where there was one; of the one that was asked for, where it is not the last."""


Decide = Callable[[PendingLot], Decided]
"""Decides at once and waits for nothing; raises StateError or FlawedDocumentError to refuse."""


class Recorded(NamedTuple):
    """A change that is kept for good, and the lot with it, folded at least so far."""

    decided: Decided
    row: LotRow
    """The lot as the change has left it."""
    folded: LotHistory
    number: int
    """Of the change."""


class Ledger(Protocol):
    """Lots and what was told of them. All raise CatalogueAwayError while the database is away."""

    async def record(self, lot: str, decide: Decide, instrument: str | None = None) -> Recorded:
        """Keep what is decided, together with what others record at the same time; it is durable when this returns.

        instrument  which the decision is to find, as it stands for the transaction that keeps the change

        Raises LotIsAlteredError where what is kept of the lot does not follow from its changes; nothing is decided then.
        """

    async def row(self, lot: str) -> LotRow:
        """A lot. Raises LotUnknownError."""

    async def folded(self, lot: str) -> LotHistory:
        """A lot with all its changes. Raises LotUnknownError."""

    async def instrument(self, instrument: str) -> InstrumentRow | None:
        """The newest version of an instrument; None where it is not registered."""

    async def recent(self, lot: str, within_s: float) -> LotHistory:
        """A lot with all changes that were kept so long ago, by whichever replica; from memory where that suffices.

        Raises LotUnknownError.
        """

    def remembered(self, lot: str) -> LotHistory | None:
        """A lot as it is in memory, perhaps not with its newest changes."""

    async def change(self, lot: str, key: str) -> Change:
        """The change under an id. Raises LotUnknownError, ChangeUnknownError."""

    async def changes(self, lot: str, after: int, limit: int) -> Sequence[Change]:
        """At most so many changes with a greater number than this. Raises LotUnknownError."""

    async def verdict(self, lot: str, number: int) -> VerdictRow:
        """A verdict with all that it rests on. Raises LotUnknownError, VerdictUnknownError."""

    async def verdict_changes(self, lot: str, after: int, limit: int) -> Sequence[Change]:
        """At most so many changes that tell of verdicts with a greater number than this. Raises LotUnknownError."""

    async def lots(self, wanted: LotsQuery) -> Sequence[LotRow]:
        """Lots in the order of their ids."""

    async def attributes(self, lot: str) -> Sequence[tuple[str, str]]:
        """(name, value) of a lot, in order."""
