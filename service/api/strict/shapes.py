"""Compare a parsed document with its expected type and collect every flaw of shape with its JSON Pointer.

msgspec's own conversion stops at the first error; this walk is used only where it has failed, so its speed matters little.
"""

import re
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import datetime
from functools import cache
from typing import Annotated, Any, get_args

import msgspec
from msgspec import inspect

from service.api.strict.grammar import member_pointer
from service.engine.documents import (
    CONTROL,
    Code,
    Flaw,
    Name,
    RequirementId,
    counted,
    did_you_mean,
    gathered,
    is_in_range,
    listed,
    quoted,
)
from service.engine.lot import out_of_range

_Walk = Callable[[Any, Any, str], Iterator[Flaw]]
Tagged = Mapping[str, inspect.StructType]
Moment = Annotated[datetime, msgspec.Meta(tz=True)]
GREATEST_DOUBLE = sys.float_info.max


def check_shape(value: object, expected: object) -> list[Flaw]:
    """The first 1,000 flaws of shape in a JSON value, in the order of the document; [] where it fits the type.

    value     as `grammar.parse` returns it
    expected  a type made of Structs, lists, unions of tagged Structs, constrained texts and numbers

    What passes here is accepted by msgspec.convert, and the reverse, except that this refuses control characters in every text
    and numbers outside 1e-9 to 1e12.
    """
    return gathered(_walk(value, _type_info(expected), ""))


@cache
def _type_info(expected: object) -> inspect.Type:
    return inspect.type_info(expected)


def _walk(value: object, expected: inspect.Type, at: str) -> Iterator[Flaw]:
    """The flaws of a value and of everything inside it."""
    # No document has nulls: what is absent is left out. Any JSON, as in a review, may still contain them.
    if value is None and not isinstance(expected, inspect.AnyType):
        text = f"{_EXPECTED_NAMES[type(expected)]} is asked for here, not null. Leave the field out, or give it a value."
        return iter((Flaw("wrong-type", text, at),))
    return _WALKS[type(expected)](value, expected, at)


def _wrong_type(value: object, asked: str, at: str) -> Flaw:
    """The flaw of a value of another JSON type than expected."""
    remedy = "Correct it."
    if isinstance(value, str) and asked.endswith("number"):
        remedy = "Write it without quotation marks."
    elif asked == "A text" and isinstance(value, int | float):
        remedy = "Write it in quotation marks."
    return Flaw("wrong-type", f"{asked} is asked for here, and this is {_json_kind(value)}. {remedy}", at)


def _json_kind(value: object) -> str:
    """The JSON type of a value, in words for a sentence."""
    match value:
        case bool():
            return "`true`" if value else "`false`"
        case int() | float():
            return "a number"
        case str():
            return "a text"
        case list():
            return "a list"
    return "an object" if isinstance(value, dict) else "null"


def _object(value: object, expected: inspect.StructType, at: str) -> Iterator[Flaw]:
    """The flaws of an object; the tag of a Struct in a union was checked before."""
    if not isinstance(value, dict):
        yield _wrong_type(value, "An object", at)
        return
    fields = _fields(expected.cls)
    for key, item in value.items():
        if field := fields.get(key):
            yield from _walk(item, field.type, f"{at}/{key}")
        elif key != expected.tag_field:
            known = [name for name in fields if name not in value]
            remedy = did_you_mean(key, known) or " Leave it out, or correct its name."
            yield Flaw("unknown-field", f"There is no field {quoted(key)} here.{remedy}", member_pointer(at, key))
    # Missing fields come last, as they have no place in the order of the document.
    for name, field in fields.items():
        if field.required and name not in value:
            yield Flaw("missing-field", f"`{name}` is missing. Add it.", f"{at}/{name}")


@cache
def _fields(struct: type[msgspec.Struct]) -> Mapping[str, inspect.Field]:
    """The fields of a Struct by their names in JSON."""
    info = _type_info(struct)
    return {field.encode_name: field for field in info.fields} if isinstance(info, inspect.StructType) else {}


def _list(value: object, expected: inspect.ListType, at: str) -> Iterator[Flaw]:
    """The flaws of a list and its items."""
    if not isinstance(value, list):
        yield _wrong_type(value, "A list", at)
        return
    if expected.min_length is not None and len(value) < expected.min_length:
        yield Flaw("too-short", f"The list needs at least {counted(expected.min_length, 'item')}. Add one.", at)
    if expected.max_length is not None and len(value) > expected.max_length:
        text = f"The list has {len(value)} items, and at most {expected.max_length} are taken. Leave some out."
        yield Flaw("too-long", text, at)
    if not _is_plain_column(value, expected.item_type):
        for number, item in enumerate(value):
            yield from _walk(item, expected.item_type, f"{at}/{number}")


def _is_plain_column(values: Sequence[Any], expected: inspect.Type) -> bool:
    """True where all items are numbers in range: checked by C loops, as a column may have a million of them."""
    if not isinstance(expected, inspect.FloatType) or not values or not set(map(type, values)) <= {int, float}:
        return False
    least, greatest = min(values), max(values)
    is_bounded = any(bound is not None for bound in (expected.ge, expected.gt, expected.le, expected.lt))
    return bool(least > 0 and is_in_range(least) and is_in_range(greatest) and not is_bounded)


def _text(value: object, expected: inspect.StrType, at: str) -> Iterator[Flaw]:
    """The flaws of a text: control characters, length, pattern."""
    if not isinstance(value, str):
        yield _wrong_type(value, "A text", at)
    elif CONTROL.search(value):
        text = "The text holds a control character, such as a tab or a line break. Take it out."
        yield Flaw("control-character", text, at)
    elif expected.min_length is not None and len(value) < expected.min_length:
        yield Flaw("too-short", "The text is empty. Write something, or leave the field out.", at)
    elif expected.max_length is not None and len(value) > expected.max_length:
        text = f"The text has {len(value)} characters, and at most {expected.max_length} are taken. Shorten it."
        yield Flaw("too-long", text, at)
    elif expected.pattern and not re.search(expected.pattern, value):
        code, remedy = _PATTERNS.get(expected.pattern, ("other-form", "See the OpenAPI document for its form."))
        yield Flaw(code, f"{quoted(value)} is not written as it should be here. {remedy}", at)


def _pattern_of(text: object) -> str:
    """The pattern of an annotated text type."""
    return str(get_args(text)[1].pattern)


_PATTERNS: Mapping[str, tuple[str, str]] = {
    _pattern_of(Code): ("not-a-code", "Use letters, digits, `.`, `_` and `-`, a letter or a digit first, at most 64."),
    _pattern_of(Name): ("not-a-name", "Use letters, digits, `_`, `.` and `-`, a letter first, at most 63."),
    _pattern_of(RequirementId): ("not-an-id", "Use small letters, digits and `-`, a letter or a digit first, at most 63."),
    r"^[0-9]{4}-[0-9]{2}-[0-9]{2}\Z": ("not-a-date", "Write a date as 2025-06-01."),
}


def _integer(value: object, expected: inspect.IntType, at: str) -> Iterator[Flaw]:
    """The flaws of a whole number; 1.0 is none, though JSON has one type of numbers."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        yield _wrong_type(value, "A whole number", at)
    elif isinstance(value, float) and abs(value) <= GREATEST_DOUBLE:
        text = f"A whole number is asked for here, and this is `{value!r}`. Write it without a point or an exponent."
        yield Flaw("not-whole", text, at)
    elif (expected.le is not None and value > expected.le) or (expected.ge is not None and value < expected.ge):
        yield from _bounds(value, expected, at)


def _number(value: object, expected: inspect.FloatType, at: str) -> Iterator[Flaw]:
    """The flaws of a number: type, range, bounds of the field."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        yield _wrong_type(value, "A number", at)
    elif not is_in_range(value):
        yield _out_of_range(value, at)
    else:
        yield from _bounds(value, expected, at)


def _out_of_range(value: float, at: str) -> Flaw:
    """The flaw of a number out of range; one beyond every double is not printed, as it may have thousands of digits."""
    if abs(value) <= GREATEST_DOUBLE:
        return out_of_range(value, at)
    return Flaw("beyond-range", "The number is beyond the range: 0, or a magnitude from 1e-9 to 1e12. Correct it.", at)


def _bounds(value: float, expected: inspect.IntType | inspect.FloatType, at: str) -> Iterator[Flaw]:
    """The flaw of a number outside the bounds of its field."""
    if expected.ge is not None and value < expected.ge:
        yield Flaw("below-least", f"The number is below {expected.ge:.0f}, the least that is taken here. Correct it.", at)
    elif expected.gt is not None and value <= expected.gt:
        yield Flaw("below-least", f"The number must be greater than {expected.gt:.0f}. Correct it.", at)
    elif isinstance(expected, inspect.FloatType) and expected.lt is not None and value >= expected.lt:
        yield Flaw("above-greatest", f"The number must be below {expected.lt:.0f}. Correct it.", at)
    elif expected.le is not None and value > expected.le:
        yield Flaw("above-greatest", f"The number is above {expected.le:.0f}, the greatest that is taken here. Correct it.", at)


def _boolean(value: object, expected: inspect.BoolType, at: str) -> Iterator[Flaw]:
    """The flaw of a value that is not `true` or `false`."""
    if not isinstance(value, bool):
        yield _wrong_type(value, "`true` or `false`", at)


def _literal(value: object, expected: inspect.LiteralType, at: str) -> Iterator[Flaw]:
    """The flaws of a text that must be one of a few words."""
    # The empty text may be an allowed value, but can't be listed.
    words = [str(word) for word in expected.values if word]
    if not isinstance(value, str):
        yield _wrong_type(value, f"One of {listed(words)}", at)
    elif value not in expected.values:
        yield _unknown_word(value, words, "words", at)


def _unknown_word(word: str, known: Sequence[str], what: str, at: str) -> Flaw:
    """The flaw of a word that is not among the known ones, with the nearest of them."""
    near = did_you_mean(word, known)
    return Flaw("not-known-here", f"{quoted(word)} is not known here.{near} Known {what}: {listed(known, 'and')}.", at)


def _union(value: object, expected: inspect.UnionType, at: str) -> Iterator[Flaw]:
    """The flaws of a union: objects are told apart by their tag, plain values by their JSON type."""
    if tagged := _objects_by_tag(expected):
        yield from _tagged_object(value, tagged, at)
        return
    for member in expected.types:
        if type(value) in _PLAIN.get(type(member), ()):
            yield from _walk(value, member, at)
            return
    asked = [_EXPECTED_NAMES[type(member)] for member in expected.types]
    yield _wrong_type(value, _alternatives(asked), at)


def _alternatives(asked: Sequence[str]) -> str:
    """The accepted types in words: `A text, a number, `true` or `false``."""
    words = [word if number == 0 else word[0].lower() + word[1:] for number, word in enumerate(asked)]
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])}{',' if ' or ' in words[-1] else ' or'} {words[-1]}"


def _objects_by_tag(expected: inspect.UnionType) -> Tagged:
    """The Structs of a union by tag; empty for a union of plain values."""
    return {str(struct.tag): struct for struct in expected.types if isinstance(struct, inspect.StructType) and struct.tag_field}


def _tagged_object(value: object, tagged: Tagged, at: str) -> Iterator[Flaw]:
    """The flaws of a tagged object; with an unknown tag no field is checked, as nothing says which fields it has."""
    field = str(next(iter(tagged.values())).tag_field)
    if not isinstance(value, dict):
        yield _wrong_type(value, "An object", at)
    elif field not in value:
        yield Flaw("missing-field", f"`{field}` is missing. Add it: {listed(tagged)}.", f"{at}/{field}")
    elif not isinstance(value[field], str):
        yield _wrong_type(value[field], f"One of {listed(tagged)}", f"{at}/{field}")
    elif value[field] not in tagged:
        yield _unknown_word(value[field], list(tagged), f"{field}s", f"{at}/{field}")
    else:
        yield from _object(value, tagged[value[field]], at)


def _moment(value: object, expected: inspect.DateTimeType, at: str) -> Iterator[Flaw]:
    """The flaws of a moment, which needs an offset from UTC."""
    if not isinstance(value, str):
        yield _wrong_type(value, "A moment as a text", at)
        return
    try:
        msgspec.convert(value, Moment)
    except msgspec.ValidationError:
        text = f"{quoted(value)} is no moment with an offset. Write it as 2026-11-25T00:00:00Z."
        yield Flaw("not-a-moment", text, at)


def _any_json(value: object, expected: inspect.Type, at: str) -> Iterator[Flaw]:
    """No flaws: any JSON is accepted."""
    return iter(())


_WALKS: Mapping[type[inspect.Type], _Walk] = {
    inspect.StructType: _object,
    inspect.ListType: _list,
    inspect.StrType: _text,
    inspect.IntType: _integer,
    inspect.FloatType: _number,
    inspect.BoolType: _boolean,
    inspect.LiteralType: _literal,
    inspect.UnionType: _union,
    inspect.DateTimeType: _moment,
    inspect.AnyType: _any_json,
}
_EXPECTED_NAMES: Mapping[type[inspect.Type], str] = {
    inspect.StructType: "An object",
    inspect.ListType: "A list",
    inspect.StrType: "A text",
    inspect.IntType: "A whole number",
    inspect.FloatType: "A number",
    inspect.BoolType: "`true` or `false`",
    inspect.LiteralType: "A word",
    inspect.UnionType: "A value",
    inspect.DateTimeType: "A moment",
}
_PLAIN: Mapping[type[inspect.Type], tuple[type, ...]] = {
    inspect.StrType: (str,),
    inspect.FloatType: (int, float),
    inspect.BoolType: (bool,),
    inspect.StructType: (dict,),
    inspect.ListType: (list,),
}
