"""A walk over a document beside the types that it should have, which gathers every flaw of shape with its place."""

import re
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import datetime
from functools import cache
from typing import Annotated, Any, get_args

import msgspec
from msgspec import inspect

from service.api.strict.grammar import below
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


def check_shape(value: object, of: object) -> list[Flaw]:
    """The first 1,000 flaws of shape in a JSON value that should be of a type, in the order of the document; [] where it fits.

    value  as `grammar.parse` gives it
    of     a type of Structs, lists, unions of tagged Structs, constrained texts and numbers

    What passes here is taken by msgspec.convert, and the reverse, except that this refuses control characters in every text
    and numbers outside 1e-9 to 1e12.
    """
    return gathered(_walk(value, _type_info(of), ""))


@cache
def _type_info(of: object) -> inspect.Type:
    return inspect.type_info(of)


def _walk(value: object, of: inspect.Type, at: str) -> Iterator[Flaw]:
    """The flaws of a value and of all that is in it."""
    if value is None and not isinstance(of, inspect.AnyType):
        text = f"{_ASKED[type(of)]} is asked for here, not null. Leave the field out, or give it a value."
        return iter((Flaw("wrong-type", text, at),))
    return _WALKS[type(of)](value, of, at)


def _wrong_type(value: object, asked: str, at: str) -> Flaw:
    """Another kind of value stands where one is asked for."""
    remedy = "Correct it."
    if isinstance(value, str) and asked.endswith("number"):
        remedy = "Write it without quotation marks."
    elif asked == "A text" and isinstance(value, int | float):
        remedy = "Write it in quotation marks."
    return Flaw("wrong-type", f"{asked} is asked for here, and this is {_kind(value)}. {remedy}", at)


def _kind(value: object) -> str:
    """What the value is, in JSON's words."""
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


def _object(value: object, of: inspect.StructType, at: str) -> Iterator[Flaw]:
    """A Struct; its tag has been looked at where it is one of a union."""
    if not isinstance(value, dict):
        yield _wrong_type(value, "An object", at)
        return
    fields = _fields(of.cls)
    for key, item in value.items():
        if field := fields.get(key):
            yield from _walk(item, field.type, f"{at}/{key}")
        elif key != of.tag_field:
            known = [name for name in fields if name not in value]
            remedy = did_you_mean(key, known) or " Leave it out, or correct its name."
            yield Flaw("unknown-field", f"There is no field {quoted(key)} here.{remedy}", below(at, key))
    for name, field in fields.items():
        if field.required and name not in value:
            yield Flaw("missing-field", f"`{name}` is missing. Add it.", f"{at}/{name}")


@cache
def _fields(struct: type[msgspec.Struct]) -> Mapping[str, inspect.Field]:
    """The fields of a Struct by the names that they have in a document."""
    info = _type_info(struct)
    return {field.encode_name: field for field in info.fields} if isinstance(info, inspect.StructType) else {}


def _list(value: object, of: inspect.ListType, at: str) -> Iterator[Flaw]:
    """A list and what is in it."""
    if not isinstance(value, list):
        yield _wrong_type(value, "A list", at)
        return
    if of.min_length is not None and len(value) < of.min_length:
        yield Flaw("too-short", f"The list needs at least {counted(of.min_length, 'item')}. Add one.", at)
    if of.max_length is not None and len(value) > of.max_length:
        text = f"The list has {len(value)} items, and at most {of.max_length} are taken. Leave some out."
        yield Flaw("too-long", text, at)
    if not _is_plain_column(value, of.item_type):
        for number, item in enumerate(value):
            yield from _walk(item, of.item_type, f"{at}/{number}")


def _is_plain_column(values: Sequence[Any], of: inspect.Type) -> bool:
    """A long column of numbers that are all in range, told without looking at each one in turn."""
    if not isinstance(of, inspect.FloatType) or not values or not set(map(type, values)) <= {int, float}:
        return False
    least, greatest = min(values), max(values)
    is_bounded = any(bound is not None for bound in (of.ge, of.gt, of.le, of.lt))
    return bool(least > 0 and is_in_range(least) and is_in_range(greatest) and not is_bounded)


def _text(value: object, of: inspect.StrType, at: str) -> Iterator[Flaw]:
    """A text, its length, its signs."""
    if not isinstance(value, str):
        yield _wrong_type(value, "A text", at)
    elif CONTROL.search(value):
        text = "The text holds a control character, such as a tab or a line break. Take it out."
        yield Flaw("control-character", text, at)
    elif of.min_length is not None and len(value) < of.min_length:
        yield Flaw("too-short", "The text is empty. Write something, or leave the field out.", at)
    elif of.max_length is not None and len(value) > of.max_length:
        text = f"The text has {len(value)} characters, and at most {of.max_length} are taken. Shorten it."
        yield Flaw("too-long", text, at)
    elif of.pattern and not re.search(of.pattern, value):
        code, remedy = _PATTERNS.get(of.pattern, ("other-form", "See the OpenAPI document for its form."))
        yield Flaw(code, f"{quoted(value)} is not written as it should be here. {remedy}", at)


def _pattern_of(text: object) -> str:
    """The pattern of a constrained text."""
    return str(get_args(text)[1].pattern)


_PATTERNS: Mapping[str, tuple[str, str]] = {
    _pattern_of(Code): ("not-a-code", "Use letters, digits, `.`, `_` and `-`, a letter or a digit first, at most 64."),
    _pattern_of(Name): ("not-a-name", "Use letters, digits, `_`, `.` and `-`, a letter first, at most 63."),
    _pattern_of(RequirementId): ("not-an-id", "Use small letters, digits and `-`, a letter or a digit first, at most 63."),
    r"^[0-9]{4}-[0-9]{2}-[0-9]{2}\Z": ("not-a-date", "Write a date as 2025-06-01."),
}


def _whole(value: object, of: inspect.IntType, at: str) -> Iterator[Flaw]:
    """A whole number, written whole."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        yield _wrong_type(value, "A whole number", at)
    elif isinstance(value, float) and abs(value) <= GREATEST_DOUBLE:
        text = f"A whole number is asked for here, and this is `{value!r}`. Write it without a point or an exponent."
        yield Flaw("not-whole", text, at)
    elif (of.le is not None and value > of.le) or (of.ge is not None and value < of.ge):
        yield from _bounds(value, of, at)


def _number(value: object, of: inspect.FloatType, at: str) -> Iterator[Flaw]:
    """A number, finite and in range."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        yield _wrong_type(value, "A number", at)
    elif not is_in_range(value):
        yield _out_of_range(value, at)
    else:
        yield from _bounds(value, of, at)


def _out_of_range(value: float, at: str) -> Flaw:
    """The number is beyond what is taken; one that is beyond every double is not printed."""
    if abs(value) <= GREATEST_DOUBLE:
        return out_of_range(value, at)
    return Flaw("beyond-range", "The number is beyond the range: 0, or a magnitude from 1e-9 to 1e12. Correct it.", at)


def _bounds(value: float, of: inspect.IntType | inspect.FloatType, at: str) -> Iterator[Flaw]:
    """The least and the greatest that a number may be."""
    if of.ge is not None and value < of.ge:
        yield Flaw("below-least", f"The number is below {of.ge:.0f}, the least that is taken here. Correct it.", at)
    elif of.gt is not None and value <= of.gt:
        yield Flaw("below-least", f"The number must be greater than {of.gt:.0f}. Correct it.", at)
    elif isinstance(of, inspect.FloatType) and of.lt is not None and value >= of.lt:
        yield Flaw("above-greatest", f"The number must be below {of.lt:.0f}. Correct it.", at)
    elif of.le is not None and value > of.le:
        yield Flaw("above-greatest", f"The number is above {of.le:.0f}, the greatest that is taken here. Correct it.", at)


def _boolean(value: object, of: inspect.BoolType, at: str) -> Iterator[Flaw]:
    """`true` or `false`."""
    if not isinstance(value, bool):
        yield _wrong_type(value, "`true` or `false`", at)


def _word(value: object, of: inspect.LiteralType, at: str) -> Iterator[Flaw]:
    """One of a few words."""
    # No word at all may be among them, which there is nothing to show of.
    words = [str(word) for word in of.values if word]
    if not isinstance(value, str):
        yield _wrong_type(value, f"One of {listed(words)}", at)
    elif value not in of.values:
        yield _not_known(value, words, "words", at)


def _not_known(word: str, known: Sequence[str], what: str, at: str) -> Flaw:
    """A word that stands for nothing yet."""
    near = did_you_mean(word, known)
    return Flaw("not-known-here", f"{quoted(word)} is not known here.{near} Known {what}: {listed(known, 'and')}.", at)


def _union(value: object, of: inspect.UnionType, at: str) -> Iterator[Flaw]:
    """One of several objects, told apart by a word in them; or one of several values, told apart by what they are."""
    if tagged := _tagged(of):
        yield from _tagged_object(value, tagged, at)
        return
    for member in of.types:
        if type(value) in _PLAIN.get(type(member), ()):
            yield from _walk(value, member, at)
            return
    asked = [_ASKED[type(member)] for member in of.types]
    yield _wrong_type(value, _either(asked), at)


def _either(asked: Sequence[str]) -> str:
    """`A text, a number, `true` or `false``: what may stand in a place."""
    words = [word if number == 0 else word[0].lower() + word[1:] for number, word in enumerate(asked)]
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])}{',' if ' or ' in words[-1] else ' or'} {words[-1]}"


def _tagged(of: inspect.UnionType) -> Tagged:
    """The objects of a union by their words; empty where it is one of plain values."""
    return {str(each.tag): each for each in of.types if isinstance(each, inspect.StructType) and each.tag_field}


def _tagged_object(value: object, tagged: Tagged, at: str) -> Iterator[Flaw]:
    """An object whose word says which fields it has; where the word is not known, no field is looked at."""
    field = str(next(iter(tagged.values())).tag_field)
    if not isinstance(value, dict):
        yield _wrong_type(value, "An object", at)
    elif field not in value:
        yield Flaw("missing-field", f"`{field}` is missing. Add it: {listed(tagged)}.", f"{at}/{field}")
    elif not isinstance(value[field], str):
        yield _wrong_type(value[field], f"One of {listed(tagged)}", f"{at}/{field}")
    elif value[field] not in tagged:
        yield _not_known(value[field], list(tagged), f"{field}s", f"{at}/{field}")
    else:
        yield from _object(value, tagged[value[field]], at)


def _moment(value: object, of: inspect.DateTimeType, at: str) -> Iterator[Flaw]:
    """A moment with its offset from UTC."""
    if not isinstance(value, str):
        yield _wrong_type(value, "A moment as a text", at)
        return
    try:
        msgspec.convert(value, Moment)
    except msgspec.ValidationError:
        text = f"{quoted(value)} is no moment with an offset. Write it as 2026-11-25T00:00:00Z."
        yield Flaw("not-a-moment", text, at)


def _anything(value: object, of: inspect.Type, at: str) -> Iterator[Flaw]:
    """Nothing is asked of it here."""
    return iter(())


_WALKS: Mapping[type[inspect.Type], _Walk] = {
    inspect.StructType: _object,
    inspect.ListType: _list,
    inspect.StrType: _text,
    inspect.IntType: _whole,
    inspect.FloatType: _number,
    inspect.BoolType: _boolean,
    inspect.LiteralType: _word,
    inspect.UnionType: _union,
    inspect.DateTimeType: _moment,
    inspect.AnyType: _anything,
}
_ASKED: Mapping[type[inspect.Type], str] = {
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
