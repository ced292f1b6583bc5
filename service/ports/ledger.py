"""Port of the ledger of lots, its records and its errors."""

from collections.abc import Callable, Sequence
from typing import Literal, NamedTuple, Protocol

from msgspec import Struct

from service.engine.documents import Flaw
from service.engine.ledger import Change, Disposing, KnownChange, LotHistory, LotOutcome, LotRow, LotState
from service.ports.catalogue import Moment, StateError
from service.ports.instruments import InstrumentRow


class LotUnknownError(StateError):
    """No lot has this id."""


class ChangeUnknownError(StateError):
    """The lot has no change under this id."""


class VerdictUnknownError(StateError):
    """The lot has no verdict of this number."""


class LotIsClosedError(StateError):
    """The lot's state takes no change of this kind."""


class LotIsAlteredError(StateError):
    """The stored row of the lot does not follow from its changes, so the lot can't be used."""


class LotHasNoVerdictError(StateError):
    """The lot has no verdict yet, so there is nothing to correct."""


class LotStatedOtherwiseError(StateError):
    """The request states about the lot itself something other than what is recorded."""


class RevisionIsNotNewerError(StateError):
    """The revision is not newer than the lot's, and a lot moves to newer ones only."""


class ContentDiffersError(StateError):
    """Other content was recorded under this id; `flaws` lists the differences."""

    def __init__(self, text: str, flaws: Sequence[Flaw]) -> None:
        """Store the sentence and the differences."""
        super().__init__(text)
        self.flaws = tuple(flaws)


class ConcessionNeededError(StateError):
    """The lot's verdict does not permit this disposition without a concession.

    `flaws` lists the requirements of another grade that it does not meet, or the line whose acceptance is discontinued.
    """

    def __init__(self, text: str, flaws: Sequence[Flaw] = ()) -> None:
        """Store the sentence and the flaws."""
        super().__init__(text)
        self.flaws = tuple(flaws)


class ClaimWithoutVerdictError(StateError):
    """The lot has no verdict yet, so a claim has nothing to contest."""


class ClaimIsSettledError(StateError):
    """The claim is settled already, in another way."""


LotOrder = Literal["lot", "opened", "-opened"]
"""By id; by the moment of opening, the oldest first; the newest first."""


class LotsQuery(Struct, frozen=True, kw_only=True):
    """A filter of lots; None and () do not filter."""

    grade: str | None = None
    state: Sequence[LotState] = ()
    """Any of these."""
    outcome: Sequence[LotOutcome] = ()
    """Any of these, of the newest verdict."""
    disposition: Disposing | Literal["none"] | None = None
    line: str | None = None
    failed: str | None = None
    """Id of a binding requirement that failed in the newest verdict."""
    opened_from: Moment | None = None
    opened_until: Moment | None = None
    made_from: str | None = None
    made_until: str | None = None
    """First and last day, as YYYY-MM-DD."""
    attribute: tuple[str, str] | None = None
    order: LotOrder = "lot"
    after: str = ""
    """Id of the lot behind which the page begins."""
    limit: int = 100


class ListedLot(LotRow, frozen=True, kw_only=True):
    """A lot's row, with what lists show besides."""

    made: str | None
    resubmits: str | None
    failed: Sequence[str]
    """Binding requirements that failed in the newest verdict, sorted."""
    open_claims: int


class ClaimsQuery(Struct, frozen=True, kw_only=True):
    """A filter of claims on all lots; None does not filter."""

    grade: str | None = None
    is_settled: bool | None = None
    after: tuple[str, str] | None = None
    """Lot and name of the claim behind which the page begins."""
    limit: int = 100


class ClaimOnLot(Struct, frozen=True, kw_only=True):
    """A claim with the changes that record it and its settlement."""

    lot: str
    name: str
    grade: str
    claim: Change
    settlement: Change | None


class NewVerdict(Struct, frozen=True, kw_only=True):
    """A verdict to be stored with the change that records it, and with its evidence."""

    number: int
    outcome: LotOutcome
    grade: str
    revision: int
    # Bytes, as the journal has the digest of the stored text itself.
    evidence: bytes
    """The evidence document that was judged, as JSON."""
    verdict: bytes
    """The verdict as JSON, which is served unchanged for ever."""
    results: bytes = b"[]"
    """The results that the switching rules count, as JSON."""


class VerdictRow(Struct, frozen=True, kw_only=True):
    """A stored verdict with its evidence."""

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
    """A change to be stored."""

    by: str
    kind: str
    key: str
    digest: str
    document: bytes
    verdict: NewVerdict | None = None
    """The verdict that this change records, if any; stored in the same transaction."""


class PendingLot(Protocol):
    """A lot as a change finds it, with the earlier changes of the same group applied."""

    @property
    def row(self) -> LotRow | None:
        """The row that follows from the lot's changes; None before it is opened."""

    @property
    def now(self) -> Moment:
        """The time of the transaction, by the database's clock."""

    @property
    def committed(self) -> LotHistory:
        """The history of the lot before the group."""

    @property
    def instrument(self) -> InstrumentRow | None:
        """The newest version of the instrument that the change names; None without a registered one."""

    def find(self, key: str) -> KnownChange | None:
        """Return the change under this id, or None."""

    def complete_history(self) -> LotHistory:
        """Return the complete history; defers the change to the next group if this group has changed the lot before."""


class Decided(Struct, frozen=True, kw_only=True):
    """The decision on a change: the changes to store, none if the same one was recorded before."""

    changes: Sequence[NewChange] = ()
    """The changes to store; the lot's new row follows from them alone."""
    number: int = 0
    """Number to report: of the equal earlier change, or of the requested one where it is not the last; 0 for the last one."""


# Synchronous: it runs inside the transaction that holds the locks of all lots of its group.
Decide = Callable[[PendingLot], Decided]
"""A synchronous decision on a pending lot; refuses by StateError or FlawedDocumentError."""


class Recorded(NamedTuple):
    """The result of a durably stored change, and the lot's history up to that change at least."""

    decided: Decided
    row: LotRow
    """The lot's row after the change."""
    folded: LotHistory
    number: int
    """Number of the change."""


class Ledger(Protocol):
    """Lots and their recorded changes. Each call raises CatalogueAwayError while the database is unavailable."""

    # The instrument is read in the same transaction, so all replicas agree on it and none needs a cache.
    async def record(self, lot: str, decide: Decide, instrument: str | None = None) -> Recorded:
        """Decide and store a change in one transaction, grouped with concurrent ones; it is durable on return.

        instrument  id of the instrument whose newest version in this transaction the decision needs

        Raises LotIsAlteredError, before deciding, if the stored row of the lot does not follow from its changes.
        """

    async def row(self, lot: str) -> LotRow:
        """Return a lot's row. Raises LotUnknownError."""

    async def folded(self, lot: str) -> LotHistory:
        """Return a lot's complete history. Raises LotUnknownError."""

    async def instrument(self, instrument: str) -> InstrumentRow | None:
        """Return the newest version of an instrument; None if it is not registered."""

    async def recent(self, lot: str, within_s: float) -> LotHistory:
        """Return a lot's history, missing at most changes of the last `within_s` seconds; from memory where that suffices.

        Raises LotUnknownError.
        """

    def remembered(self, lot: str) -> LotHistory | None:
        """Return a lot's history from memory, possibly without its newest changes; None if not in memory."""

    async def change(self, lot: str, key: str) -> Change:
        """Return the change under an id. Raises LotUnknownError, ChangeUnknownError."""

    async def changes(self, lot: str, after: int, limit: int) -> Sequence[Change]:
        """Return at most `limit` changes with numbers above `after`, in order. Raises LotUnknownError."""

    async def verdict(self, lot: str, number: int) -> VerdictRow:
        """Return a verdict with its evidence. Raises LotUnknownError, VerdictUnknownError."""

    async def verdict_changes(self, lot: str, after: int, limit: int) -> Sequence[Change]:
        """Return at most `limit` changes that record verdicts with numbers above `after`, in order. Raises LotUnknownError."""

    async def lots(self, wanted: LotsQuery) -> Sequence[ListedLot]:
        """Return the lots that match, in the requested order.

        Raises LotUnknownError if `after` is no lot and the order is that of opening.
        """

    async def claims(self, wanted: ClaimsQuery) -> Sequence[ClaimOnLot]:
        """Return the claims on all lots that match, the newest first. Raises ChangeUnknownError if `after` is no claim."""

    async def attributes(self, lot: str) -> Sequence[tuple[str, str]]:
        """Return the attributes of a lot as sorted (name, value) pairs."""
