"""Compare a parsed document with its expected type and collect every flaw of shape with its JSON Pointer.

msgspec's own conversion stops at the first error; this walk is used only where it has failed, so its speed matters little.
"""

import re
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import datetime
from functools import cache
from typing import Annotated, Any, NamedTuple, get_args

import msgspec
from msgspec import inspect

from service.api.strict.grammar import member_pointer
from service.engine.documents import (
    CONTROL,
    Code,
    Flaw,
    Name,
    RequirementId,
    cut,
    did_you_mean,
    gathered,
    is_in_range,
    listed,
    one_of,
    quoted,
)
from service.engine.ledger import Place
from service.engine.lot import out_of_range


class _Form(NamedTuple):
    """What is said of a text that does not match its pattern."""

    code: str
    what: str
    """What the text is not, in words."""
    remedy: str
    characters: str = ""
    """The characters that it may have, as in brackets of a pattern; "" where the first wrong one is not named."""


_Walk = Callable[[Any, Any, str], Iterator[Flaw]]
Tagged = Mapping[str, inspect.StructType]
Moment = Annotated[datetime, msgspec.Meta(tz=True)]
GREATEST_DOUBLE = sys.float_info.max
_IN_DIGITS = re.compile(r"-?(0|[1-9][0-9]*)(\.[0-9]+)?([eE][+-]?[0-9]+)?")
_DECIMAL_COMMA = re.compile(r"-?[0-9]+,[0-9]+")
LONGEST_DECIMAL = 20
"""Characters of a number with a comma that is written with a point for the caller; a longer one is hardly a reading."""
_WITHOUT_ZONE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}[Tt ][0-9]{2}:[0-9]{2}:[0-9]{2}(\.[0-9]+)?")
_SPACE_FOR_PLUS = re.compile(r".*:[0-9]{2}(\.[0-9]+)? [0-9]{2}:?[0-9]{2}")
"""A `+` in a query arrives as a space where it was not percent-encoded."""


def check_shape(value: object, expected: object, at: str = "") -> list[Flaw]:
    """The first 1,000 flaws of shape in a JSON value, in the order of the document; [] where it fits the type.

    value     as `grammar.parse` returns it
    expected  a type made of Structs, lists, unions of tagged Structs, constrained texts and numbers
    at        JSON Pointer of the value

    What passes here is accepted by msgspec.convert, and the reverse, except that this refuses control characters in every text
    and numbers outside 1e-9 to 1e12.
    """
    return gathered(_walk(value, _type_info(expected), at))


@cache
def _type_info(expected: object) -> inspect.Type:
    return inspect.type_info(expected)


def _walk(value: object, expected: inspect.Type, at: str) -> Iterator[Flaw]:
    """The flaws of a value and of everything inside it."""
    # No document has nulls: what is absent is left out. Any JSON, as in a review, may still contain them.
    if value is None and not isinstance(expected, inspect.AnyType):
        text = f"{_subject(at)} is null, and must be {_EXPECTED_NAMES[type(expected)]}. Give it a value, or leave it out."
        return iter((Flaw("wrong-type", text, at),))
    return _WALKS[type(expected)](value, expected, at)


def _wrong_type(value: object, asked: str, at: str) -> Flaw:
    """The flaw of a value of another JSON type than expected."""
    if isinstance(value, str) and asked.endswith("number"):
        return Flaw("wrong-type", f"{quoted(value)} {_no_number(value, asked)}", at)
    remedy = "Write it in quotation marks." if asked == "a text" and isinstance(value, int | float) else "Correct it."
    return Flaw("wrong-type", f"{_subject(at)} must be {asked}, and is {_json_kind(value)}. {remedy}", at)


def _no_number(text: str, asked: str) -> str:
    """What is wrong with a text in place of a number: how a sentence goes on after it."""
    if _IN_DIGITS.fullmatch(text) and (asked == "a number" or text.isdecimal()):
        return f"is in quotation marks, and must be {asked}. Write it without them."
    remedy = "Write a number such as 9.1." if asked == "a number" else "Write it in digits."
    if asked == "a number" and len(text) <= LONGEST_DECIMAL and _DECIMAL_COMMA.fullmatch(text):
        remedy = f"Write {text.replace(',', '.')}."
    return f"is not {asked}. {remedy}"


def _subject(at: str) -> str:
    """What a sentence is about: the member that the pointer ends with; `This` for an entry of a list and for the whole."""
    name = at.rpartition("/")[2]
    return "This" if not name or name.isdecimal() else quoted(name.replace("~1", "/").replace("~0", "~"))


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
        yield _wrong_type(value, "an object", at)
        return
    fields = _fields(expected.cls)
    for key, item in value.items():
        if field := fields.get(key):
            yield from _walk(item, field.type, f"{at}/{key}")
        elif key != expected.tag_field:
            known = [name for name in fields if name not in value]
            remedy = did_you_mean(key, known) or " Remove it, or correct its name."
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
        yield _wrong_type(value, "a list", at)
        return
    if expected.min_length is not None and len(value) < expected.min_length:
        yield Flaw("too-short", f"{_subject(at)} needs at least {_entries(expected.min_length)}. Add one.", at)
    if expected.max_length is not None and len(value) > expected.max_length:
        text = f"{_subject(at)} has {_entries(len(value))}, and may have at most {expected.max_length}. Remove some."
        yield Flaw("too-long", text, at)
    if not _is_plain_column(value, expected.item_type):
        for number, item in enumerate(value):
            yield from _walk(item, expected.item_type, f"{at}/{number}")


def _entries(number: int) -> str:
    """`1 entry`, `3 entries`."""
    return "1 entry" if number == 1 else f"{number} entries"


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
        yield _wrong_type(value, "a text", at)
    elif CONTROL.search(value):
        text = f"{_subject(at)} has a control character, such as a tab or a line break. Remove it."
        yield Flaw("control-character", text, at)
    elif expected.min_length is not None and len(value) < expected.min_length:
        yield Flaw("too-short", f"{_subject(at)} is empty. Fill it in, or leave it out.", at)
    elif expected.max_length is not None and len(value) > expected.max_length:
        text = f"{_subject(at)} has {len(value)} characters, and may have at most {expected.max_length}. Shorten it."
        yield Flaw("too-long", text, at)
    elif expected.pattern and not re.search(expected.pattern, value):
        form = _PATTERNS.get(expected.pattern, _OTHER)
        yield Flaw(form.code, f"{quoted(value)} {_wrong_form(value, form, at)}. {form.remedy}", at)


def _wrong_form(value: str, form: _Form, at: str) -> str:
    """What is wrong with a text of another form: how a sentence goes on after it."""
    if form.characters and (found := re.search(f"[^{form.characters}]", value)):
        character, whose = "a space" if found[0] == " " else quoted(found[0]), _subject(at)
        return f"has {character}, which {'is not allowed here' if whose == 'This' else f'{whose} may not have'}"
    return f"is not {form.what}"


def _pattern_of(text: object) -> str:
    """The pattern of an annotated text type."""
    return str(get_args(text)[1].pattern)


NAME_AND_VALUE = r"^[A-Za-z][A-Za-z0-9._-]{0,62}:[^\x00-\x1f\x7f-\x9f]{1,200}\Z"
"""An attribute in a query, as `order:4500031877`."""
KEY_BEGINNING = r"^mky_[0-9a-f]{8}\Z"
_OTHER = _Form("other-form", "in the form that is needed here", "See /docs for the form.")
_PATTERNS: Mapping[str, _Form] = {
    _pattern_of(Code): _Form(
        "not-a-code",
        "a name that can be used here",
        "Use letters, digits, `.`, `_` and `-`, a letter or a digit first, at most 64.",
        r"A-Za-z0-9._\-",
    ),
    _pattern_of(Name): _Form(
        "not-a-name",
        "a name that can be used here",
        "Use letters, digits, `_`, `.` and `-`, a letter first, at most 63.",
        r"A-Za-z0-9._\-",
    ),
    _pattern_of(RequirementId): _Form(
        "not-an-id",
        "an id that can be used here",
        "Use small letters, digits and `-`, a letter or a digit first, at most 63.",
        r"a-z0-9\-",
    ),
    r"^[0-9]{4}-[0-9]{2}-[0-9]{2}\Z": _Form("not-a-date", "a date", "Write it as 2025-06-01."),
    _pattern_of(Place): _Form(
        "other-form",
        "a place in a batch",
        "Write it as `/series/0/values/5`, `/counts/0`, `/declared/0` or `/dates/0`.",
    ),
    NAME_AND_VALUE: _Form("other-form", "an attribute with its value", "Write it as `name:value`."),
    KEY_BEGINNING: _Form("other-form", "the beginning of a key", "Write it as `mky_1a2b3c4d`."),
}


def _integer(value: object, expected: inspect.IntType, at: str) -> Iterator[Flaw]:
    """The flaws of a whole number; 1.0 is none, though JSON has one type of numbers."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        yield _wrong_type(value, "a whole number", at)
    elif isinstance(value, float) and abs(value) <= GREATEST_DOUBLE:
        text = f"{_subject(at)} is {value!r}, and must be a whole number. Write it without a point or an exponent."
        yield Flaw("not-whole", text, at)
    elif (expected.le is not None and value > expected.le) or (expected.ge is not None and value < expected.ge):
        yield from _bounds(value, expected, at)


def _number(value: object, expected: inspect.FloatType, at: str) -> Iterator[Flaw]:
    """The flaws of a number: type, range, bounds of the field."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        yield _wrong_type(value, "a number", at)
    elif not is_in_range(value):
        yield _out_of_range(value, at)
    else:
        yield from _bounds(value, expected, at)


def _out_of_range(value: float, at: str) -> Flaw:
    """The flaw of a number out of range; one beyond every double is not printed, as it may have thousands of digits."""
    if abs(value) <= GREATEST_DOUBLE:
        return out_of_range(value, at)
    return Flaw("beyond-range", f"{_subject(at)} must be 0, or from 1e-9 to 1e12 above or below it. Correct it.", at)


def _bounds(value: float, expected: inspect.IntType | inspect.FloatType, at: str) -> Iterator[Flaw]:
    """The flaw of a number outside the bounds of its field."""
    what = f"{_subject(at)} is {cut(f'{value:.15g}' if isinstance(value, float) else str(value))}"
    if expected.ge is not None and value < expected.ge:
        yield Flaw("below-least", f"{what}, and must be at least {expected.ge:.0f}. Correct it.", at)
    elif expected.gt is not None and value <= expected.gt:
        yield Flaw("below-least", f"{what}, and must be more than {expected.gt:.0f}. Correct it.", at)
    elif isinstance(expected, inspect.FloatType) and expected.lt is not None and value >= expected.lt:
        yield Flaw("above-greatest", f"{what}, and must be less than {expected.lt:.0f}. Correct it.", at)
    elif expected.le is not None and value > expected.le:
        yield Flaw("above-greatest", f"{what}, and must be at most {expected.le:.0f}. Correct it.", at)


def _boolean(value: object, expected: inspect.BoolType, at: str) -> Iterator[Flaw]:
    """The flaw of a value that is not `true` or `false`."""
    if not isinstance(value, bool):
        yield _wrong_type(value, "`true` or `false`", at)


def _literal(value: object, expected: inspect.LiteralType, at: str) -> Iterator[Flaw]:
    """The flaws of a text that must be one of a few words."""
    # The empty text may be an allowed value, but can't be listed.
    words = [str(word) for word in expected.values if word]
    if not isinstance(value, str):
        yield _wrong_type(value, one_of(words), at)
    elif value not in expected.values:
        yield _unknown_word(value, words, at)


def _unknown_word(word: str, known: Sequence[str], at: str) -> Flaw:
    """The flaw of a word that is not among the known ones, with the nearest of them."""
    return Flaw("not-known-here", f"{quoted(word)} is not known here.{did_you_mean(word, known)} Use {listed(known)}.", at)


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
    """The accepted types in words: `a text, a number, `true` or `false``."""
    return asked[0] if len(asked) == 1 else f"{', '.join(asked[:-1])}{',' if ' or ' in asked[-1] else ' or'} {asked[-1]}"


def _objects_by_tag(expected: inspect.UnionType) -> Tagged:
    """The Structs of a union by tag; empty for a union of plain values."""
    return {str(struct.tag): struct for struct in expected.types if isinstance(struct, inspect.StructType) and struct.tag_field}


def _tagged_object(value: object, tagged: Tagged, at: str) -> Iterator[Flaw]:
    """The flaws of a tagged object; with an unknown tag no field is checked, as nothing says which fields it has."""
    field = str(next(iter(tagged.values())).tag_field)
    if not isinstance(value, dict):
        yield _wrong_type(value, "an object", at)
    elif field not in value:
        yield Flaw("missing-field", f"`{field}` is missing. Add it: {listed(tagged)}.", f"{at}/{field}")
    elif not isinstance(value[field], str):
        yield _wrong_type(value[field], one_of(tagged), f"{at}/{field}")
    elif value[field] not in tagged:
        yield _unknown_word(value[field], list(tagged), f"{at}/{field}")
    else:
        yield from _object(value, tagged[value[field]], at)


def _moment(value: object, expected: inspect.DateTimeType, at: str) -> Iterator[Flaw]:
    """The flaws of a moment, which needs an offset from UTC."""
    if not isinstance(value, str):
        yield _wrong_type(value, "a date and time as a text", at)
        return
    try:
        msgspec.convert(value, Moment)
    except msgspec.ValidationError:
        if _WITHOUT_ZONE.fullmatch(value):
            text = f"{quoted(value)} has no time zone. Add the time zone, as in 06:00+01:00."
        elif _SPACE_FOR_PLUS.fullmatch(value):
            text = f"{quoted(value)} has a space before the time zone. Write `+`, which is `%2B` in a query."
        else:
            text = f"{quoted(value)} is not a date and time. Write it as 2026-11-25T06:00:00+01:00."
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
    inspect.StructType: "an object",
    inspect.ListType: "a list",
    inspect.StrType: "a text",
    inspect.IntType: "a whole number",
    inspect.FloatType: "a number",
    inspect.BoolType: "`true` or `false`",
    inspect.LiteralType: "a word",
    inspect.UnionType: "a value",
    inspect.DateTimeType: "a date and time",
}
_PLAIN: Mapping[type[inspect.Type], tuple[type, ...]] = {
    inspect.StrType: (str,),
    inspect.FloatType: (int, float),
    inspect.BoolType: (bool,),
    inspect.StructType: (dict,),
    inspect.ListType: (list,),
}
