"""Bytes → typed documents, strictly, and at msgspec's speed where nothing is wrong with them."""

import gc
import re
from collections.abc import Awaitable, Callable, Iterator, Sequence
from functools import cache, cached_property
from operator import attrgetter
from typing import Any, Generic, NamedTuple, TypeVar

import msgspec
from msgspec import UNSET, Struct, inspect

from service.api.grammar import NotJsonError, parse
from service.api.salvaging import Rest, in_order, rest_of
from service.api.shapes import check_shape
from service.engine.flaws import Flaw, FlawedDocumentError
from service.usecases.apart import apart

__all__ = [
    "FlawedDocumentError",
    "NotJsonError",
    "Shape",
    "at_once",
    "check_shape",
    "decode",
    "decode_and",
    "decoded",
    "parse",
]

T = TypeVar("T")
LONG = 32 * 1024
"""Bytes that take the slow way to a flaw some milliseconds; from there on checks are answered meanwhile."""
MOST_SALVAGED = 100
"""A document with so many flaws of shape has enough to mend."""
FAR_APART = 400
"""Bytes a key from which on it pays to look for one colon after the other."""
SHORT = 1024
"""Bytes of a document that is encoded in less time than its members are looked at."""
_encode = msgspec.json.Encoder().encode
_C1 = re.compile(rb"\xc2[\x80-\x9f]")


class Shape(Generic[T]):
    """A type of document and its decoder, made once."""

    def __init__(self, of: type[T]) -> None:
        """Make the decoder."""
        self.of = of
        self.typed = msgspec.json.Decoder(of).decode
        self.least = _least_keys(of)
        """So many keys a document of it has at least."""

    @cached_property
    def comes_back(self) -> bool:
        """Whether each document of it is encoded with just the keys and the texts that it was decoded from."""
        return all(map(_is_kept, _types_in(inspect.type_info(self.of), set())))


def decode(body: bytes, shape: Shape[T]) -> T:
    """The document that the bytes write.

    Raises NotJsonError where they are not JSON, FlawedDocumentError with every flaw of shape where they don't fit the type.

    msgspec decodes; it lets duplicate keys pass, and control characters in texts. Each key brings one colon, so that where
    the bytes hold as many colons as the document has keys, no key stands twice; a colon in a text only leads to the slow way.
    A control character, as raw C0 is refused by the grammar, comes in by a backslash, as DEL, or as C1.
    """
    document = at_once(body, shape)
    return _decode_slowly(body, shape) if document is None else document


async def decoded(body: bytes, shape: Shape[T]) -> T:
    """The same, where checks are answered meanwhile: of a long body with flaws, which takes a second for some MiB."""
    document = at_once(body, shape)
    if document is not None:
        return document
    return _decode_slowly(body, shape) if len(body) < LONG else await apart(_decode_long, body, shape)


def at_once(body: bytes, shape: Shape[T]) -> T | None:
    """The document, or None where something is wrong with it, or may be: `decoded` says which."""
    try:
        document = shape.typed(body)
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError):
        return None
    return document if not _may_hold_controls(body) and _has_each_key_once(body, document, shape) else None


def _has_each_key_once(body: bytes, document: object, shape: Shape[T]) -> bool:
    """True only where no key stands twice, of a body without a backslash.

    Keys need not be counted where the colons are as few as any document has, nor in a short document that comes back when it is
    encoded: then it holds the same colons in its texts, and one for each key that it has.
    """
    if len(body) < FAR_APART * shape.least and body.count(b":") == shape.least:
        return True
    if len(body) < SHORT and shape.comes_back:
        return _encode(document).count(b":") == body.count(b":")
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
    if not gc.isenabled():
        return _decode_slowly(body, shape)
    gc.disable()
    try:
        return _decode_slowly(body, shape)
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
        rest = error.rest() if len(body) < LONG else await apart(error.rest)
        more = [] if rest is None else await _flaws_of_rest(look, rest)
        raise FlawedDocumentError(in_order(error.value, (*error.flaws, *more))) from error


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
        if members.is_flat:
            return keys
        for member in members.optional(value):
            if member is UNSET:
                keys -= 1
            elif type(member) not in _WITHOUT_KEYS:
                keys += _keys_in(member)
        for member in members.nested(value):
            keys += _keys_in(member)
        return keys
    if isinstance(value, list):
        return sum(map(_keys_in, value)) if value and type(value[0]) not in _WITHOUT_KEYS else 0
    return len(value) + sum(map(_keys_in, value.values())) if isinstance(value, dict) else 0


def _is_kept(of: inspect.Type) -> bool:
    """Nothing that is written otherwise than it was read, such as a moment, nor a member that stands in by default."""
    if isinstance(of, inspect.StructType):
        return all(field.required or field.default is UNSET for field in msgspec.structs.fields(of.cls))
    return isinstance(of, (*_PLAIN, inspect.ListType, inspect.UnionType))


def _types_in(of: inspect.Type, seen: set[type]) -> Iterator[inspect.Type]:
    """It, and all types that it may hold, each Struct once."""
    if isinstance(of, inspect.StructType):
        if of.cls in seen:
            return
        seen.add(of.cls)
    yield of
    inner: Sequence[inspect.Type] = ()
    match of:
        case inspect.StructType():
            inner = [field.type for field in of.fields]
        case inspect.ListType():
            inner = [of.item_type]
        case inspect.UnionType():
            inner = of.types
    for each in inner:
        yield from _types_in(each, seen)


def _least_keys(of: object) -> int:
    """How many keys a document of this type has at least, those of what it holds left aside."""
    if not isinstance(of, type) or not issubclass(of, Struct):
        return 0
    return sum(field.required for field in msgspec.structs.fields(of)) + (of.__struct_config__.tag is not None)


Members = Callable[[Struct], tuple[object, ...]]


class _Members(NamedTuple):
    """What is to be looked at to count the keys of a Struct."""

    most: int
    """How many keys it has where every member is there."""
    plain: Members
    """The optional ones that hold no keys themselves."""
    optional: Members
    """The other optional ones."""
    is_flat: bool
    """True where the other two are none."""
    nested: Members
    """Those always there that may hold keys themselves."""


@cache
def _members(struct: type[Struct]) -> _Members:
    """Found out once for each type."""
    fields = msgspec.structs.fields(struct)
    holding = {field.name for field in fields if _may_hold_keys(inspect.type_info(field.type))}
    optional = [field.name for field in fields if not field.required]
    most = len(fields) + (struct.__struct_config__.tag is not None)
    return _Members(
        most=most,
        plain=_getter([name for name in optional if name not in holding]),
        optional=_getter([name for name in optional if name in holding]),
        nested=_getter([field.name for field in fields if field.required and field.name in holding]),
        is_flat=not holding,
    )


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
