"""Bytes → typed documents, strictly, and at msgspec's speed where nothing is wrong with them."""

import gc
import re
from collections.abc import Awaitable, Callable, Iterator, Sequence
from functools import cache
from operator import attrgetter
from typing import Any, Generic, NamedTuple, ParamSpec, TypeVar

import msgspec
from msgspec import UNSET, Struct, inspect

from service.api.strict.grammar import NotJsonError, parse
from service.api.strict.shapes import check_shape
from service.api.strict.valid_part import Rest, in_order, rest_of
from service.engine.documents import MOST_FOUND, Flaw, FlawedDocumentError
from service.usecases.threads import read_in_thread

__all__ = [
    "FlawedDocumentError",
    "NotJsonError",
    "Shape",
    "check_shape",
    "decode",
    "decode_and",
    "decoded",
    "parse",
]

P = ParamSpec("P")
T = TypeVar("T")
LONG = 8 * 1024
"""Bytes that take the slow way to flaws up to five milliseconds; from there on checks are answered meanwhile."""
LONG_AT_BEST = 256 * 1024
"""Bytes that msgspec and the count of keys take as long for, where nothing is wrong with them."""
MOST_SALVAGED = 100
"""A document with so many flaws of shape has enough to mend."""
FAR_APART = 400
"""Bytes a key from which on it pays to look for one colon after the other."""
_C1 = re.compile(rb"\xc2[\x80-\x9f]")


class Shape(Generic[T]):
    """A type of document and its decoder, made once."""

    def __init__(self, of: type[T]) -> None:
        """Make the decoder."""
        self.of = of
        self.typed = msgspec.json.Decoder(of).decode
        self.least = _least_keys(of)
        """So many keys a document of it has at least."""


def decode(body: bytes, shape: Shape[T]) -> T:
    """The document that the bytes write.

    Raises NotJsonError where they are not JSON, FlawedDocumentError with every flaw of shape where they don't fit the type.

    msgspec decodes; it lets duplicate keys pass, and control characters in texts. Each key brings one colon, so that where
    the bytes hold as many colons as the document has keys, no key stands twice; a colon in a text only leads to the slow way.
    A control character, as raw C0 is refused by the grammar, comes in by a backslash, as DEL, or as C1.
    """
    document = _typed(body, shape)
    return _decode_slowly(body, shape) if document is None else document


async def decoded(body: bytes, shape: Shape[T]) -> T:
    """The same, where checks are answered meanwhile: of a long body, and of a shorter one with flaws."""
    document = _typed(body, shape) if len(body) < LONG_AT_BEST else None
    return await _by_length(body, _decode_long, body, shape) if document is None else document


async def _by_length(body: bytes, work: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> T:
    """What is to be done with a body, beside the checks where it is long."""
    return await read_in_thread(work, *args, **kwargs) if len(body) >= LONG else work(*args, **kwargs)


def _typed(body: bytes, shape: Shape[T]) -> T | None:
    """The document as msgspec reads it, or None where something is wrong with it, or may be."""
    try:
        document = shape.typed(body)
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError):
        return None
    return document if _has_each_key_once(body, document, shape.least) and not _may_hold_controls(body) else None


def _has_each_key_once(body: bytes, document: object, least: int) -> bool:
    """True only where no key stands twice; keys need not be counted where the colons are as few as any document has."""
    if len(body) < FAR_APART * least and body.count(b":") == least:
        return True
    keys = _keys_in(document)
    return keys == (body.count(b":") if len(body) < FAR_APART * keys else _colons_far_apart(body, keys))


def _colons_far_apart(body: bytes, most: int) -> int:
    """How many there are, or one more than `most`: found one after the other, which is faster than to count byte by byte."""
    found, place = 0, body.find(b":")
    while place >= 0 and found <= most:
        found, place = found + 1, body.find(b":", place + 1)
    return found


def _may_hold_controls(body: bytes) -> bool:
    """False only if no text in it holds a control character."""
    return b"\\" in body or b"\x7f" in body or (not body.isascii() and _C1.search(body) is not None)


def _decode_slowly(body: bytes, shape: Shape[T]) -> T:
    """By the grammar, then by a walk that gathers every flaw."""
    value = parse(body)
    if flaws := check_shape(value, shape.of):
        raise MisshapenError(value, shape, flaws)
    return msgspec.convert(value, shape.of)


def _decode_long(body: bytes, shape: Shape[T]) -> T:
    """The same without looks for cycles, of which JSON makes none: each would go through all that is read so far, in one go."""
    read = decode if len(body) >= LONG_AT_BEST else _decode_slowly
    if len(body) < LONG or not gc.isenabled():
        return read(body, shape)
    gc.disable()
    try:
        return read(body, shape)
    finally:
        gc.enable()


class MisshapenError(FlawedDocumentError):
    """A document has flaws of shape; what is left without them may have flaws of meaning."""

    def __init__(self, value: object, shape: "Shape[Any]", flaws: Sequence[Flaw]) -> None:
        """Keep the document as it was parsed."""
        super().__init__(flaws)
        self.value, self.shape = value, shape

    def rest(self) -> Rest[Any] | None:
        """What is left; None where there are too many flaws, or nothing useful is."""
        if len(self.flaws) >= MOST_SALVAGED:
            return None
        try:
            return rest_of(self.value, self.shape.of, self.flaws)
        except RecursionError:
            return None


async def decode_and(look: Callable[[T], Awaitable[object]], body: bytes, shape: Shape[T]) -> T:
    """The document that the bytes write, as `decode` gives it; where that has flaws of shape, those of meaning are told too.

    look  raises FlawedDocumentError with the flaws of meaning in a document; it is asked only about what is left of one, so it
          must change nothing
    """
    try:
        return await decoded(body, shape)
    except MisshapenError as error:
        rest = await _by_length(body, error.rest)
        more = [] if rest is None else await _flaws_of_rest(look, rest)
        flaws = await _by_length(body, in_order, error.value, (*error.flaws, *more))
        raise FlawedDocumentError(flaws[:MOST_FOUND]) from error


async def _flaws_of_rest(look: Callable[[T], Awaitable[object]], rest: Rest[T]) -> list[Flaw]:
    """The flaws of meaning in what is left of a misshapen document."""
    try:
        await look(rest.document)
    except FlawedDocumentError as found:
        return rest.flaws_of_whole(found.flaws)
    return []


def _keys_in(value: object) -> int:
    """How many keys the objects of a decoded document have."""
    if isinstance(value, Struct):
        members = _members(type(value))
        keys = members.most - members.plain(value).count(UNSET)
        for member in members.holding(value):
            if member is UNSET:
                keys -= 1
            elif type(member) not in _WITHOUT_KEYS:
                keys += _keys_in(member)
        return keys
    if isinstance(value, list):
        return sum(map(_keys_in, value)) if value and type(value[0]) not in _WITHOUT_KEYS else 0
    return len(value) + sum(map(_keys_in, value.values())) if isinstance(value, dict) else 0


def _least_keys(of: object) -> int:
    """How many keys a document of this type has at least, those of what it holds left aside."""
    if not isinstance(of, type) or not issubclass(of, Struct):
        return 0
    return sum(field.required for field in msgspec.structs.fields(of)) + (of.__struct_config__.tag is not None)


Members = Callable[[Struct], tuple[object, ...]]


class _Members(NamedTuple):
    """What is to be looked at to count the keys of a Struct, and of those that are always in it."""

    most: int
    """How many keys these have where every member is there."""
    plain: Members
    """The optional ones that hold no keys themselves."""
    holding: Members
    """All others that may, optional or not, but for Structs that are always there, whose members stand among these."""


@cache
def _members(struct: type[Struct]) -> _Members:
    """Found out once for each type."""
    most, plain, holding = 0, list[str](), list[str]()
    for at, type_ in _always_in(struct, ""):
        fields = msgspec.structs.fields(type_)
        most += len(fields) + (type_.__struct_config__.tag is not None)
        for field in fields:
            if _may_hold_keys(of := inspect.type_info(field.type)):
                holding += [] if field.required and isinstance(of, inspect.StructType) else [at + field.name]
            elif not field.required:
                plain.append(at + field.name)
    return _Members(most, _getter(plain), _getter(holding))


def _always_in(struct: type[Struct], at: str) -> Iterator[tuple[str, type[Struct]]]:
    """The Struct and those that each one of it holds, with where they stand, as in `evidence.lot.`."""
    yield at, struct
    for field in msgspec.structs.fields(struct):
        of = inspect.type_info(field.type)
        if field.required and isinstance(of, inspect.StructType):
            yield from _always_in(of.cls, f"{at}{field.name}.")


def _getter(names: Sequence[str]) -> Members:
    """The values of these members, as a tuple however many they are."""
    if not names:
        return lambda _: ()
    get = attrgetter(*names)
    return get if len(names) > 1 else lambda holder: (get(holder),)


def _may_hold_keys(of: inspect.Type) -> bool:
    """False for plain values and lists of them."""
    return not isinstance(of.item_type if isinstance(of, inspect.ListType) else of, _PLAIN)


_PLAIN = (inspect.StrType, inspect.FloatType, inspect.IntType, inspect.BoolType, inspect.LiteralType)
_WITHOUT_KEYS = frozenset({str, float, int, bool})
