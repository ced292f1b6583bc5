"""Bytes → typed documents: strict, and as fast as msgspec for documents without flaws."""

import gc
import re
from collections.abc import Awaitable, Callable, Iterator, Sequence
from functools import cache
from operator import attrgetter
from typing import Any, Generic, NamedTuple, ParamSpec, TypeVar

import msgspec
from msgspec import UNSET, Struct, inspect

from service.api.operations import has_no_required_field
from service.api.strict.grammar import NotJsonError, empty_body, parse
from service.api.strict.shapes import check_shape
from service.api.strict.valid_part import ValidPart, in_document_order, valid_part_of
from service.engine.documents import MOST_FOUND, Flaw, FlawedDocumentError
from service.usecases.threads import read_in_thread

__all__ = [
    "FlawedDocumentError",
    "NotJsonError",
    "Shape",
    "check_shape",
    "decode",
    "decode_and_check",
    "decode_async",
    "parse",
]

P = ParamSpec("P")
T = TypeVar("T")
THREADED_SLOW_PATH = 8 * 1024
"""Bytes: the slow path takes up to five milliseconds for a shorter body; for a longer one it runs in a thread."""
THREADED_FAST_PATH = 256 * 1024
"""Bytes: the same time on the fast path, msgspec and the count of keys; a longer body is decoded in a thread at once."""
MOST_SALVAGED = 100
"""Flaws of shape from which on a document is not searched for flaws of meaning: it has enough to mend."""
SPARSE_COLONS = 400
"""Bytes per key from which on finding colons one by one is faster than counting them byte by byte."""
_C1 = re.compile(rb"\xc2[\x80-\x9f]")


class Shape(Generic[T]):
    """A type of document and its msgspec decoder, created once."""

    def __init__(self, type_: type[T]) -> None:
        """Create the decoder for this type."""
        self.type = type_
        self.decode = msgspec.json.Decoder(type_).decode
        self.least_keys = _least_keys(type_)
        """The fewest keys that a document of this type can have, apart from those inside its values."""


def decode(body: bytes, shape: Shape[T]) -> T:
    """Decode a JSON document of this type.

    Raises NotJsonError where the bytes are not JSON, FlawedDocumentError with every flaw of shape where they don't fit.

    msgspec accepts duplicate keys, and control characters in texts, so both are ruled out here. Each key brings one colon:
    where the bytes have as many colons as the document has keys, no key is repeated. A colon in a text only leads to the slow
    path. The grammar refuses raw C0 characters, so a control character can come only by a backslash, as DEL, or as C1.
    """
    document = _decode_fast(body, shape)
    return _decode_slowly(body, shape) if document is None else document


async def decode_async(body: bytes, shape: Shape[T]) -> T:
    """`decode` for the event loop: from 256 KiB on in a thread, from 8 KiB on where the document has flaws."""
    document = _decode_fast(body, shape) if len(body) < THREADED_FAST_PATH else None
    return await _run_by_length(body, _decode_long, body, shape) if document is None else document


async def _run_by_length(body: bytes, work: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> T:
    """Call `work` on a body: in a thread where it is long, so that checks are answered meanwhile, else directly."""
    return await read_in_thread(work, *args, **kwargs) if len(body) >= THREADED_SLOW_PATH else work(*args, **kwargs)


def _decode_fast(body: bytes, shape: Shape[T]) -> T | None:
    """The document as msgspec decodes it; None where it has a flaw or may have one."""
    try:
        document = shape.decode(body)
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError):
        # Why exactly is for the slow path to say: msgspec reports the first error only, and without a pointer.
        return None
    return document if _has_each_key_once(body, document, shape.least_keys) and not _may_hold_controls(body) else None


def _has_each_key_once(body: bytes, document: object, least: int) -> bool:
    """True only where no key is repeated."""
    # With as few colons as any document of the type has, no key can be optional or repeated, and the keys need no count.
    if len(body) < SPARSE_COLONS * least and body.count(b":") == least:
        return True
    keys = _count_keys(document)
    return keys == (body.count(b":") if len(body) < SPARSE_COLONS * keys else _count_sparse_colons(body, keys))


def _count_sparse_colons(body: bytes, most: int) -> int:
    """The number of colons, or `most` + 1 where there are more."""
    # `find` skips to the next colon, which is faster than `count` byte by byte where colons are far apart.
    found, place = 0, body.find(b":")
    while place >= 0 and found <= most:
        found, place = found + 1, body.find(b":", place + 1)
    return found


def _may_hold_controls(body: bytes) -> bool:
    """False only if no text in the body contains a control character."""
    return b"\\" in body or b"\x7f" in body or (not body.isascii() and _C1.search(body) is not None)


def _decode_slowly(body: bytes, shape: Shape[T]) -> T:
    """Parse by the strict grammar, then collect every flaw of shape. Raises NotJsonError, MisshapenError."""
    if not body.strip() and has_no_required_field(shape.type):
        raise NotJsonError([empty_body("`{}`")])
    value = parse(body)
    if flaws := check_shape(value, shape.type):
        raise MisshapenError(value, shape, flaws)
    return msgspec.convert(value, shape.type)


def _decode_long(body: bytes, shape: Shape[T]) -> T:
    """Decode a long body with the garbage collector paused."""
    # JSON has no reference cycles, and each collection would traverse everything decoded so far while it holds the GIL.
    read = decode if len(body) >= THREADED_FAST_PATH else _decode_slowly
    if len(body) < THREADED_SLOW_PATH or not gc.isenabled():
        return read(body, shape)
    gc.disable()
    try:
        return read(body, shape)
    finally:
        gc.enable()


class MisshapenError(FlawedDocumentError):
    """A document has flaws of shape; its valid part may have flaws of meaning besides."""

    def __init__(self, value: object, shape: "Shape[Any]", flaws: Sequence[Flaw]) -> None:
        """Store the parsed document and its type beside the flaws."""
        super().__init__(flaws)
        self.value, self.shape = value, shape

    def valid_part(self) -> ValidPart[Any] | None:
        """The document without its flawed members; None with 100 flaws or more, or where nothing useful is left."""
        if len(self.flaws) >= MOST_SALVAGED:
            return None
        try:
            return valid_part_of(self.value, self.shape.type, self.flaws)
        except RecursionError:
            return None


async def decode_and_check(find_flaws: Callable[[T], Awaitable[object]], body: bytes, shape: Shape[T]) -> T:
    """`decode_async`, but flaws of meaning are reported beside flaws of shape.

    find_flaws  raises FlawedDocumentError with the flaws of meaning in a document; called only with the valid part of a
                misshapen one, so it must not change anything

    Raises NotJsonError, or FlawedDocumentError with at most 1,000 flaws in the order of the document.
    """
    try:
        return await decode_async(body, shape)
    except MisshapenError as error:
        part = await _run_by_length(body, error.valid_part)
        more = [] if part is None else await _flaws_of_valid_part(find_flaws, part)
        flaws = await _run_by_length(body, in_document_order, error.value, (*error.flaws, *more))
        raise FlawedDocumentError(flaws[:MOST_FOUND]) from error


async def _flaws_of_valid_part(find_flaws: Callable[[T], Awaitable[object]], part: ValidPart[T]) -> list[Flaw]:
    """The flaws of meaning in the valid part of a misshapen document, with pointers into the whole."""
    try:
        await find_flaws(part.document)
    except FlawedDocumentError as found:
        return part.flaws_of_whole(found.flaws)
    return []


def _count_keys(value: object) -> int:
    """The number of keys in all objects of a decoded document."""
    # Counted on the objects: encoding a short document again to count its keys did not pay.
    if isinstance(value, Struct):
        members = _members(type(value))
        keys = members.most - members.plain(value).count(UNSET)
        for member in members.holding(value):
            if member is UNSET:
                keys -= 1
            elif type(member) not in _WITHOUT_KEYS:
                keys += _count_keys(member)
        return keys
    if isinstance(value, list):
        # Types make lists homogeneous, so the first item tells of all: a column of readings costs one look.
        return sum(map(_count_keys, value)) if value and type(value[0]) not in _WITHOUT_KEYS else 0
    return len(value) + sum(map(_count_keys, value.values())) if isinstance(value, dict) else 0


def _least_keys(type_: object) -> int:
    """The required fields of a Struct and its tag; 0 for other types."""
    if not isinstance(type_, type) or not issubclass(type_, Struct):
        return 0
    return sum(field.required for field in msgspec.structs.fields(type_)) + (type_.__struct_config__.tag is not None)


Members = Callable[[Struct], tuple[object, ...]]


class _Members(NamedTuple):
    """How to count the keys of a Struct together with those of Structs that are required fields of it."""

    most: int
    """Their keys where no field is left out."""
    plain: Members
    """Gets the values of optional fields that hold no keys themselves."""
    holding: Members
    """Gets the values of fields that may hold keys; required Structs are left out, as their own fields are listed here."""


@cache
def _members(struct: type[Struct]) -> _Members:
    """The _Members of a Struct type, cached for each type."""
    most, plain, holding = 0, list[str](), list[str]()
    for at, type_ in _always_in(struct, ""):
        fields = msgspec.structs.fields(type_)
        most += len(fields) + (type_.__struct_config__.tag is not None)
        for field in fields:
            if _may_hold_keys(field_type := inspect.type_info(field.type)):
                holding += [] if field.required and isinstance(field_type, inspect.StructType) else [at + field.name]
            elif not field.required:
                plain.append(at + field.name)
    return _Members(most, _getter(plain), _getter(holding))


def _always_in(struct: type[Struct], at: str) -> Iterator[tuple[str, type[Struct]]]:
    """The Struct and those that are required fields of it, at any depth, each with its attribute path as in `evidence.lot.`."""
    yield at, struct
    for field in msgspec.structs.fields(struct):
        field_type = inspect.type_info(field.type)
        if field.required and isinstance(field_type, inspect.StructType):
            yield from _always_in(field_type.cls, f"{at}{field.name}.")


def _getter(names: Sequence[str]) -> Members:
    """A function that gets the values of these attribute paths as a tuple, also for none or one of them."""
    if not names:
        return lambda _: ()
    # attrgetter with one name gives the bare value.
    get = attrgetter(*names)
    return get if len(names) > 1 else lambda holder: (get(holder),)


def _may_hold_keys(type_: inspect.Type) -> bool:
    """False for plain values and lists of them."""
    return not isinstance(type_.item_type if isinstance(type_, inspect.ListType) else type_, _PLAIN)


_PLAIN = (inspect.StrType, inspect.FloatType, inspect.IntType, inspect.BoolType, inspect.LiteralType)
_WITHOUT_KEYS = frozenset({str, float, int, bool})
