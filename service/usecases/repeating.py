"""Idempotent writes by the caller's ids: a repeated document gets the same answer, another one with the id is refused."""

from collections.abc import Awaitable, Callable, Collection, Mapping
from itertools import islice
from typing import Any, NoReturn

import msgspec
from msgspec import UNSET, Struct

from service.engine.documents import Difference, Flaw, cut, differences, digest_of, quoted
from service.engine.ledger import KnownChange, encoded
from service.ports.ledger import ContentDiffersError, Decide, Ledger, Recorded

MOST_DIFFERENCES = 100
AsSent = Callable[[dict[str, Any]], Awaitable[dict[str, Any]]]


class DiffersError(Exception):
    """Other content is stored under the id."""


def digest_of_sent(document: Struct) -> str:
    """Digest of a document as sent; equal documents have equal digests."""
    return digest_of(encoded(document))


def is_repeated(known: KnownChange | None, kind: str, digest: str) -> bool:
    """True if the same change was recorded before, False if none was. Raises DiffersError if another one was."""
    if known is None:
        return False
    if (known.kind, known.digest) != (kind, digest):
        raise DiffersError
    return True


async def record_or_compare(
    ledger: Ledger,
    lot: str,
    key: str,
    document: Struct,
    decide: Decide,
    instrument: str | None = None,
    filled: Collection[str] = (),
    as_sent: AsSent | None = None,
) -> Recorded:
    """Record a change. Raises ContentDiffersError with all differences if other content is stored under the id.

    key      the caller's id; "" for the opening of a lot, which has the lot's id
    filled   members that are stored with a value of the service's where the caller leaves them out
    as_sent  makes a stored document what was sent, where members of it are stored elsewhere
    """
    differs: list[DiffersError] = []
    try:
        return await ledger.record(lot, _noting(decide, differs), instrument)
    except ContentDiffersError:
        if not differs:
            raise
        await _refuse(ledger, lot, key, document, filled, as_sent)


def _noting(decide: Decide, differs: list[DiffersError]) -> Decide:
    """Wrap a decision so that a difference is noted in `differs` and refuses the change."""

    def decided(pending: object) -> object:
        try:
            return decide(pending)  # type: ignore[arg-type]
        except DiffersError as error:
            # Compared in full only after the group's transaction: comparing reads the stored document.
            differs.append(error)
            raise ContentDiffersError("", []) from error

    return decided  # type: ignore[return-value]


async def _refuse(
    ledger: Ledger, lot: str, key: str, document: Struct, filled: Collection[str], as_sent: AsSent | None
) -> NoReturn:
    """Raise ContentDiffersError with the differences between the sent and the stored document."""
    stored = await ledger.change(lot, key)
    # Without members that the service added, such as marks of an instrument or the number of a verdict.
    before = {name: value for name, value in msgspec.json.decode(stored.document).items() if name in _names_of(document)}
    before = await as_sent(before) if as_sent else before
    now = msgspec.json.decode(encoded(document))
    # Members that were filled in and are left out now are no difference, unless nothing else differs: then the digests differ
    # because one of the two named such a member.
    comparable = {name: value for name, value in before.items() if name in now or name not in filled}
    flaws = content_flaws(comparable, now) or content_flaws(before, now) or content_flaws(_without(before, filled), now)
    if key:
        text = f"{quoted(key)} is already change {stored.number} of the lot, with other content."
        raise ContentDiffersError(f"{text} Send the same content again, or use another id.", flaws)
    text = f"Lot {lot} was already opened, with other content. Send the same content again, or open another lot."
    raise ContentDiffersError(text, flaws)


def _without(document: Mapping[str, object], names: Collection[str]) -> Mapping[str, object]:
    return {name: value for name, value in document.items() if name not in names}


def content_flaws(before: object, now: object) -> list[Flaw]:
    """The first MOST_DIFFERENCES differences as flaws, with pointers into the new document."""
    return [_flaw(each) for each in islice(differences(before, now), MOST_DIFFERENCES)]


def _names_of(document: Struct) -> tuple[str, ...]:
    """Names of the members that a caller may send."""
    return document.__struct_encode_fields__


def _flaw(difference: Difference) -> Flaw:
    """A difference as a flaw, with its pointer into the new document."""
    at, before, now = difference.at, difference.then, difference.now
    if before is UNSET:
        text = f"This was left out before, and is {_shown(now)} now."
    elif now is UNSET:
        text = f"This was {_shown(before)} before, and is left out now."
    elif isinstance(before, list) and isinstance(now, list):
        text = f"There were {len(before)} entries before, and there are {len(now)} now."
    else:
        text = f"This was {_shown(before)} before, and is {_shown(now)} now."
    return Flaw("differs", text, at)


def _shown(value: object) -> str:
    return f"`{cut(msgspec.json.encode(value).decode())}`"
