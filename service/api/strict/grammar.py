"""Bytes → Python values by a strict grammar of JSON: what two parsers could read differently is refused."""

import json
import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

from service.engine.documents import Flaw, gathered, quoted

MOST_DIGITS = 400
"""Digits: a longer integer exceeds every double; it is read as an infinity, which the range check then reports."""
MOST_PARTS = 500_000
"""Objects and lists in a document; each takes up to 200 bytes of memory, and no document needs a tenth as many."""
LONGEST_POINTED_KEY = 100
"""Characters: the pointer of a flaw at a longer key is that of its object, and the text quotes the key, cut."""
LONGEST_POINTER = 1000
"""Characters: a pointer that is longer goes no deeper. Else each of a million numbers behind a thousand long keys would get
a pointer of 100 kB."""

_SURROGATE_ESCAPE = re.compile(rb"\\u[dD][89a-fA-F]")
_SURROGATE = re.compile("[\ud800-\udfff]")
_REASONS: Mapping[str, str] = {
    "Expecting value": "a value is missing",
    "Expecting property name enclosed in double quotes": "a key in double quotes is missing",
    "Expecting ':' delimiter": "a colon is missing",
    "Expecting ',' delimiter": "a comma or a closing bracket is missing",
    "Unterminated string starting at": "a text begins here and has no closing quotation mark",
    "Invalid control character at": "a text has a control character, such as a line break",
    "Invalid \\escape": "a backslash is not followed by a letter that JSON has there",
    "Invalid \\uXXXX escape": "`\\u` needs four hexadecimal digits",
    "Extra data": "the document has ended before this",
}


class NotJsonError(ValueError):
    """The bytes are not JSON, or break the strict grammar; `flaws` says where and why."""

    def __init__(self, flaws: Sequence[Flaw]) -> None:
        """Store the flaws, at least one."""
        super().__init__(flaws[0].text)
        self.flaws = tuple(flaws)


class _ObjectWithDuplicates(dict[str, object]):
    """An object with at least one repeated key."""

    def __init__(self, pairs: Sequence[tuple[str, object]]) -> None:
        super().__init__(pairs)
        self.duplicate_keys = [key for key, times in Counter(key for key, _ in pairs).items() if times > 1]


class _Constant(str):
    """`NaN`, `Infinity` or `-Infinity`, which Python's parser and some writers accept, and JSON does not have."""

    __slots__ = ()


def parse(body: bytes) -> object:
    """Parse JSON in UTF-8 without a byte-order mark. Raises NotJsonError with every flaw that can be found."""
    text = _text_of(body)
    # Before parsing, and an upper bound that costs one pass: brackets in texts are counted too.
    if body.count(b"{") + body.count(b"[") > MOST_PARTS:
        what = f"The body has more than {MOST_PARTS} objects and lists, the most that are taken."
        raise NotJsonError([Flaw("too-many-parts", f"{what} Send it in several requests.", "")])
    suspects: list[object] = []

    def constant(name: str) -> _Constant:
        suspects.append(name)
        return _Constant(name)

    def pairs(members: list[tuple[str, object]]) -> dict[str, object]:
        # Only repeated keys need the subclass: it is slower, and remembered so that valid documents are walked no second time.
        parsed = dict(members)
        if len(parsed) == len(members):
            return parsed
        suspects.append(parsed)
        return _ObjectWithDuplicates(members)

    try:
        value: object = json.loads(
            text, object_pairs_hook=pairs, parse_constant=constant, parse_int=_integer, parse_float=_real
        )
        # Surrogates can come only by escapes, as the UTF-8 decoder refuses them raw.
        if suspects or _SURROGATE_ESCAPE.search(body):
            _refuse(gathered(_grammar_flaws(value, "")))
    except json.JSONDecodeError as error:
        raise NotJsonError([_syntax_flaw(error)]) from error
    except RecursionError as error:
        flaw = Flaw("nested-too-deep", "The body is nested too deep to be read. Use no more than 20 levels.", "")
        raise NotJsonError([flaw]) from error
    return value


def _text_of(body: bytes) -> str:
    """The bytes decoded from UTF-8. Raises NotJsonError for a byte-order mark, an empty body or other bytes."""
    if body.startswith(b"\xef\xbb\xbf"):
        raise NotJsonError([Flaw("byte-order-mark", "The body begins with a byte-order mark. Send it without one.", "")])
    if not body.strip():
        raise NotJsonError([empty_body("a JSON document")])
    try:
        return body.decode()
    except UnicodeDecodeError as error:
        text = f"Byte {error.start} of the body, counted from 0, is not UTF-8. Send the body in UTF-8."
        raise NotJsonError([Flaw("not-utf-8", text, "")]) from error


def empty_body(remedy: str) -> Flaw:
    """The flaw of a body without content; `remedy` is what to send."""
    return Flaw("empty-body", f"The body is empty. Send {remedy}.", "")


def _integer(digits: str) -> int | float:
    """An integer; an infinity in place of one with more than 400 digits, which Python parses slowly, then not at all."""
    return int(digits) if len(digits) <= MOST_DIGITS else float("-inf" if digits[0] == "-" else "inf")


def _real(digits: str) -> float:
    """A number with a point or an exponent.

    A Python function rather than `float` itself: json's C parser releases the GIL only while Python code runs, so with
    `float` a long column would block all other threads until its end.
    """
    return float(digits)


def _syntax_flaw(error: json.JSONDecodeError) -> Flaw:
    """The flaw for a syntax error, with line and column."""
    where = f"line {error.lineno}, column {error.colno}"
    if error.pos >= len(error.doc.rstrip()):
        text = f"The body ends too early, at {where}. Send the whole body."
        return Flaw("not-json", text, "")
    reason = _REASONS.get(error.msg.removesuffix(" at"), _REASONS.get(error.msg, "it is not written as JSON is"))
    return Flaw("not-json", f"The body is not JSON at {where}: {reason}. Correct it there.", "")


def _refuse(flaws: Sequence[Flaw]) -> None:
    if flaws:
        raise NotJsonError(flaws)


def _grammar_flaws(value: object, at: str) -> Iterator[Flaw]:
    """What json parses although it is not strict JSON: constants, lone surrogates, repeated keys; in the document's order."""
    if isinstance(value, _Constant):
        yield Flaw("not-a-number", f"`{value}` is not a number in JSON. Give a number, or leave the reading out.", at)
    elif isinstance(value, str):
        if _SURROGATE.search(value):
            text = "The text has half a character, such as `\\ud83d` by itself. Write the character itself."
            yield Flaw("lone-surrogate", text, at)
    elif isinstance(value, list):
        for number, item in enumerate(value):
            yield from _grammar_flaws(item, at if len(at) > LONGEST_POINTER else f"{at}/{number}")
    elif isinstance(value, dict):
        yield from _object_flaws(value, at)


def _object_flaws(value: Mapping[str, object], at: str) -> Iterator[Flaw]:
    """The flaws of an object's keys and of its values."""
    twice = set(value.duplicate_keys) if isinstance(value, _ObjectWithDuplicates) else set()
    for key, item in value.items():
        here = member_pointer(at, key)
        if key in twice:
            yield Flaw("duplicate-key", f"{quoted(printable(key))} is given twice in one object. Remove one of the two.", here)
        if _SURROGATE.search(key):
            yield Flaw(
                "lone-surrogate", "A field's name has half a character, such as `\\ud83d` by itself. Correct the name.", at
            )
        yield from _grammar_flaws(item, here)


def member_pointer(at: str, key: str) -> str:
    """The JSON Pointer of a member; that of its object where the key is too long, too deep or not encodable in UTF-8."""
    if len(key) > LONGEST_POINTED_KEY or len(at) > LONGEST_POINTER or _SURROGATE.search(key):
        return at
    return f"{at}/{key.replace('~', '~0').replace('/', '~1')}"


def printable(text: str) -> str:
    """The text with lone surrogates replaced by U+FFFD, so that it can be encoded in an answer."""
    return _SURROGATE.sub("\ufffd", text)
