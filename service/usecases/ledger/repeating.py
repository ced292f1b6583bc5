"""The caller's own ids: what was sent before is answered the same, and something else under the same id is refused."""

from collections.abc import Iterator
from typing import NoReturn

import msgspec
from msgspec import Struct

from service.engine.digests import digest_of
from service.engine.flaws import Flaw, cut, quoted
from service.engine.ledger.folding import Known, written
from service.ports import ContentDiffersError, Decide, Ledger, Recorded

MOST_DIFFERENCES = 100


class DiffersError(Exception):
    """Under the id something else is kept."""


def digest_of_sent(document: Struct) -> str:
    """The digest of what a caller sent; equal documents have equal ones."""
    return digest_of(written(document))


def is_repeated(known: Known | None, kind: str, digest: str) -> bool:
    """True where the same was recorded before. Raises DiffersError where something else was."""
    if known is None:
        return False
    if (known.kind, known.digest) != (kind, digest):
        raise DiffersError
    return True


async def record_or_compare(
    ledger: Ledger, lot: str, key: str, document: Struct, decide: Decide, instrument: str | None = None
) -> Recorded:
    """Record; where something else is kept under the id, raises ContentDiffersError with where both differ."""
    differs: list[DiffersError] = []
    try:
        return await ledger.record(lot, _noting(decide, differs), instrument)
    except ContentDiffersError:
        if not differs:
            raise
        await _refuse(ledger, lot, key, document)


def _noting(decide: Decide, differs: list[DiffersError]) -> Decide:
    """The same decision, whose difference is told in full afterwards, out of the group."""

    def decided(so_far: object) -> object:
        try:
            return decide(so_far)  # type: ignore[arg-type]
        except DiffersError as error:
            differs.append(error)
            raise ContentDiffersError("", []) from error

    return decided  # type: ignore[return-value]


async def _refuse(ledger: Ledger, lot: str, key: str, document: Struct) -> NoReturn:
    """Say where what was sent differs from what is kept."""
    kept = await ledger.change(lot, key)
    # What was known besides, of an instrument or of a verdict, was not sent.
    before = {name: value for name, value in msgspec.json.decode(kept.document).items() if name in _names_of(document)}
    now = msgspec.json.decode(written(document))
    flaws = []
    for flaw in differences(before, now, ""):
        flaws.append(flaw)
        if len(flaws) == MOST_DIFFERENCES:
            break
    text = (
        f"{quoted(key)} is in the lot's changes already, as number {kept.number}, with other content. Send the same again, or "
        "send this under an id of its own."
    )
    raise ContentDiffersError(text, flaws)


def _names_of(document: Struct) -> tuple[str, ...]:
    """Of the members that its callers may send."""
    return document.__struct_encode_fields__


def differences(before: object, now: object, at: str) -> Iterator[Flaw]:
    """Where two JSON documents differ, each with its pointer into the one sent now."""
    if isinstance(before, dict) and isinstance(now, dict):
        for name in sorted({*before, *now}):
            if name not in now:
                yield Flaw("differs", f"This was {_shown(before[name])} before, and is left out now.", f"{at}/{name}")
            elif name not in before:
                yield Flaw("differs", f"This was left out before, and is {_shown(now[name])} now.", f"{at}/{name}")
            else:
                yield from differences(before[name], now[name], f"{at}/{name}")
    elif isinstance(before, list) and isinstance(now, list) and len(before) == len(now):
        for number, (one, other) in enumerate(zip(before, now, strict=True)):
            yield from differences(one, other, f"{at}/{number}")
    elif isinstance(before, list) and isinstance(now, list):
        yield Flaw("differs", f"There were {len(before)} entries before, and there are {len(now)} now.", at)
    elif before != now:
        yield Flaw("differs", f"This was {_shown(before)} before, and is {_shown(now)} now.", at)


def _shown(value: object) -> str:
    return f"`{cut(msgspec.json.encode(value).decode())}`"
