"""The caller's own ids: what was sent before is answered the same, and something else under the same id is refused."""

from collections.abc import Collection, Mapping
from itertools import islice
from typing import NoReturn

import msgspec
from msgspec import UNSET, Struct

from service.engine.documents import Difference, Flaw, cut, differences, digest_of, quoted
from service.engine.ledger import KnownChange, encoded
from service.ports.ledger import ContentDiffersError, Decide, Ledger, Recorded

MOST_DIFFERENCES = 100


class DiffersError(Exception):
    """Under the id something else is kept."""


def digest_of_sent(document: Struct) -> str:
    """The digest of what a caller sent; equal documents have equal ones."""
    return digest_of(encoded(document))


def is_repeated(known: KnownChange | None, kind: str, digest: str) -> bool:
    """True where the same was recorded before. Raises DiffersError where something else was."""
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
) -> Recorded:
    """Record; where something else is kept under the id, raises ContentDiffersError with where both differ.

    key     the caller's id; "" for the opening of the lot, which the lot's own id names
    filled  members of the document that are kept with a value of ours where the caller leaves them out
    """
    differs: list[DiffersError] = []
    try:
        return await ledger.record(lot, _noting(decide, differs), instrument)
    except ContentDiffersError:
        if not differs:
            raise
        await _refuse(ledger, lot, key, document, filled)


def _noting(decide: Decide, differs: list[DiffersError]) -> Decide:
    """The same decision, whose difference is told in full afterwards, out of the group."""

    def decided(pending: object) -> object:
        try:
            return decide(pending)  # type: ignore[arg-type]
        except DiffersError as error:
            differs.append(error)
            raise ContentDiffersError("", []) from error

    return decided  # type: ignore[return-value]


async def _refuse(ledger: Ledger, lot: str, key: str, document: Struct, filled: Collection[str]) -> NoReturn:
    """Say where what was sent differs from what is kept."""
    kept = await ledger.change(lot, key)
    # What was known besides, of an instrument or of a verdict, was not sent.
    before = {name: value for name, value in msgspec.json.decode(kept.document).items() if name in _names_of(document)}
    now = msgspec.json.decode(encoded(document))
    # What both leave out is no difference, though it is kept; where nothing else differs, one of them has named it.
    left_out = {name: value for name, value in before.items() if name in now or name not in filled}
    flaws = content_flaws(left_out, now) or content_flaws(before, now) or content_flaws(_without(before, filled), now)
    if key:
        text = f"{quoted(key)} is in the lot's changes already, as number {kept.number}, with other content."
        raise ContentDiffersError(f"{text} Send the same again, or send this under an id of its own.", flaws)
    text = f"Lot {lot} is there already, and was opened with other content. Send the same again, or open another lot."
    raise ContentDiffersError(text, flaws)


def _without(document: Mapping[str, object], names: Collection[str]) -> Mapping[str, object]:
    return {name: value for name, value in document.items() if name not in names}


def content_flaws(before: object, now: object) -> list[Flaw]:
    """Where what is sent now differs from what was sent before, each with its pointer; the first hundred."""
    return [_flaw(each) for each in islice(differences(before, now), MOST_DIFFERENCES)]


def _names_of(document: Struct) -> tuple[str, ...]:
    """Of the members that its callers may send."""
    return document.__struct_encode_fields__


def _flaw(difference: Difference) -> Flaw:
    """The difference in a sentence, with its pointer into what was sent now."""
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
