"""Bytes → Python values by the grammar of JSON, strictly: what two readers could read differently is refused."""

import json
import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

from service.engine.documents import Flaw, gathered, quoted

MOST_DIGITS = 400
"""An integer with more is beyond every double, and is read as an infinity, which is then told to be beyond the range."""
MOST_PARTS = 500_000
"""Objects and lists; each takes up to two hundred bytes, and no document here needs a tenth as many."""
LONGEST_POINTED = 100
"""A key that is longer is quoted in the text, cut, and the pointer is to its object."""
LONGEST_POINTER = 1000
"""Characters; what stands deeper than that is pointed to by what it stands in. Else each of a million numbers behind a thousand
long keys would have a place of 100 kB written out."""

_SURROGATE_ESCAPE = re.compile(rb"\\u[dD][89a-fA-F]")
_SURROGATE = re.compile("[\ud800-\udfff]")
_REASONS: Mapping[str, str] = {
    "Expecting value": "a value is missing",
    "Expecting property name enclosed in double quotes": "a key in double quotes is missing",
    "Expecting ':' delimiter": "a colon is missing",
    "Expecting ',' delimiter": "a comma or a closing bracket is missing",
    "Unterminated string starting at": "a text begins here and never ends",
    "Invalid control character at": "a control character stands in a text",
    "Invalid \\escape": "a backslash begins nothing known",
    "Invalid \\uXXXX escape": "`\\u` needs four hexadecimal digits",
    "Extra data": "the document has ended before this",
}


class NotJsonError(ValueError):
    """The bytes are not JSON as it is taken here; `flaws` says where and why."""

    def __init__(self, flaws: Sequence[Flaw]) -> None:
        """Keep the flaws; at least one."""
        super().__init__(flaws[0].text)
        self.flaws = tuple(flaws)


class _Doubled(dict[str, object]):
    """An object of which some key stands twice."""

    def __init__(self, pairs: Sequence[tuple[str, object]]) -> None:
        super().__init__(pairs)
        self.keys_twice = [key for key, times in Counter(key for key, _ in pairs).items() if times > 1]


class _Constant(str):
    """`NaN`, `Infinity` or `-Infinity`, which stand for numbers in some writers and are not JSON."""

    __slots__ = ()


def parse(body: bytes) -> object:
    """The value that the bytes write, in UTF-8 without a byte-order mark. Raises NotJsonError with every place."""
    text = _text_of(body)
    if body.count(b"{") + body.count(b"[") > MOST_PARTS:
        what = f"The document has more than {MOST_PARTS} objects and lists, of which nothing here needs a tenth."
        raise NotJsonError([Flaw("too-many-parts", f"{what} Send less at a time.", "")])
    seen: list[object] = []

    def constant(name: str) -> _Constant:
        seen.append(name)
        return _Constant(name)

    def pairs(members: list[tuple[str, object]]) -> dict[str, object]:
        made = dict(members)
        if len(made) == len(members):
            return made
        seen.append(made)
        return _Doubled(members)

    try:
        value: object = json.loads(
            text, object_pairs_hook=pairs, parse_constant=constant, parse_int=_integer, parse_float=_real
        )
        if seen or _SURROGATE_ESCAPE.search(body):
            _refuse(gathered(_grammar_flaws(value, "")))
    except json.JSONDecodeError as error:
        raise NotJsonError([_place(error)]) from error
    except RecursionError as error:
        flaw = Flaw(
            "nested-too-deep", "The document is nested too deep to be read. Nothing here needs more than 20 levels.", ""
        )
        raise NotJsonError([flaw]) from error
    return value


def _text_of(body: bytes) -> str:
    """The bytes as text."""
    if body.startswith(b"\xef\xbb\xbf"):
        raise NotJsonError([Flaw("byte-order-mark", "The body begins with a byte-order mark. Send it without one.", "")])
    if not body.strip():
        raise NotJsonError([Flaw("empty-body", "The body is empty. Send a JSON document.", "")])
    try:
        return body.decode()
    except UnicodeDecodeError as error:
        text = f"Byte {error.start} of the body, counted from 0, is not UTF-8. Send the document in UTF-8."
        raise NotJsonError([Flaw("not-utf-8", text, "")]) from error


def _integer(digits: str) -> int | float:
    """A whole number; one of thousands of digits, which Python takes long to read, is an infinity."""
    return int(digits) if len(digits) <= MOST_DIGITS else float("-inf" if digits[0] == "-" else "inf")


def _real(digits: str) -> float:
    """A number with a point or an exponent.

    Given to the parser as a function of ours, since only between steps of ours other threads have their turn: `float` itself
    would hold them up for all of a long column.
    """
    return float(digits)


def _place(error: json.JSONDecodeError) -> Flaw:
    """Where the document stops being JSON, and why."""
    where = f"line {error.lineno}, column {error.colno}"
    if error.pos >= len(error.doc.rstrip()):
        text = f"The body ends too early, at {where}. Send the whole document."
        return Flaw("not-json", text, "")
    reason = _REASONS.get(error.msg.removesuffix(" at"), _REASONS.get(error.msg, "it is not written as JSON is"))
    return Flaw("not-json", f"The body is not JSON from {where} on: {reason}. Correct it there.", "")


def _refuse(flaws: Sequence[Flaw]) -> None:
    if flaws:
        raise NotJsonError(flaws)


def _grammar_flaws(value: object, at: str) -> Iterator[Flaw]:
    """What is read without an error and yet is not JSON to us, in the order of the document."""
    if isinstance(value, _Constant):
        yield Flaw("not-a-number", f"`{value}` is not JSON. Give a number, or leave the reading out.", at)
    elif isinstance(value, str):
        if _SURROGATE.search(value):
            text = "The text holds one half of a surrogate pair, which is no character. Write the character itself."
            yield Flaw("lone-surrogate", text, at)
    elif isinstance(value, list):
        for number, item in enumerate(value):
            yield from _grammar_flaws(item, at if len(at) > LONGEST_POINTER else f"{at}/{number}")
    elif isinstance(value, dict):
        yield from _object_flaws(value, at)


def _object_flaws(value: Mapping[str, object], at: str) -> Iterator[Flaw]:
    """What is wrong with the keys of an object, and in it."""
    twice = set(value.keys_twice) if isinstance(value, _Doubled) else set()
    for key, item in value.items():
        here = below(at, key)
        if key in twice:
            yield Flaw(
                "duplicate-key", f"The key {quoted(printable(key))} stands twice in one object. Leave one of them.", here
            )
        if _SURROGATE.search(key):
            yield Flaw(
                "lone-surrogate", "A key holds one half of a surrogate pair, which is no character. Correct the key.", at
            )
        yield from _grammar_flaws(item, here)


def below(at: str, key: str) -> str:
    """The JSON Pointer to a member; to its object where the key is very long, stands very deep or could not be sent back."""
    if len(key) > LONGEST_POINTED or len(at) > LONGEST_POINTER or _SURROGATE.search(key):
        return at
    return f"{at}/{key.replace('~', '~0').replace('/', '~1')}"


def printable(text: str) -> str:
    """The text with the halves of surrogate pairs replaced, so that it can be sent back."""
    return _SURROGATE.sub("\ufffd", text)
