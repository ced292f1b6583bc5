"""Parameters of paths and queries: their types and patterns, and the strict check of a query."""

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Annotated, Any, NamedTuple, get_args, get_origin
from urllib.parse import parse_qsl

import msgspec
from litestar.handlers import BaseRouteHandler
from litestar.openapi.spec import Example
from litestar.params import HeaderParameter, PathParameter, QueryParameter
from msgspec import Meta

from service.api.moments import DayOrMoment, day_or_moment_flaws
from service.api.strict.grammar import member_pointer, printable
from service.api.strict.shapes import check_shape
from service.engine.documents import Flaw, FlawedDocumentError, did_you_mean, gathered, listed, quoted
from service.usecases.paging import MOST_AT_ONCE

_CODE = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}")
# At most nine digits: any number that matches fits the 32-bit integers of a database.
_NUMBER = re.compile(r"[1-9][0-9]{0,8}")
PATH_PATTERNS: Mapping[str, re.Pattern[str]] = {
    **dict.fromkeys(("grade", "lot", "batch", "claim", "concession", "instrument", "line"), _CODE),
    **dict.fromkeys(("revision", "verdict"), _NUMBER),
    "key": re.compile(r"mky_[0-9a-f]{8}"),
    "characteristic": re.compile(r"[A-Za-z][A-Za-z0-9._-]{0,62}"),
    "file": re.compile(r"[a-z-]+\.[a-z]+"),
}
"""Patterns of path parameters by name; a path with any other value is 404 rather than 422, as nothing can have that name."""
_FORM_OF_CODE = "Use letters, digits, `.`, `_` and `-`, a letter or a digit first, at most 64."
_NAMES: Mapping[str, tuple[str, str]] = {
    "grade": ("the code of a grade", _FORM_OF_CODE),
    "instrument": ("the name of an instrument", _FORM_OF_CODE),
    "characteristic": ("a characteristic", "Use letters, digits, `.`, `_` and `-`, a letter first, at most 63."),
    "revision": ("the number of a revision", "Write it in digits, from 1 on."),
    "verdict": ("the number of a verdict", "Write it in digits, from 1 on."),
    "key": ("the beginning of a key", "Write it as `mky_1a2b3c4d`."),
    "file": ("the name of a file", "See /docs."),
}
"""What a path parameter is and how it is written, by its name; the others are names in the form of a code."""
MOST_PARAMETERS = 100
_WHOLE = re.compile(r"(0|[1-9][0-9]{0,9})\Z")


def wrong_name(parameter: str, text: str) -> str:
    """That nothing can have this text as its name in a path, and how such names are written."""
    what, form = _NAMES.get(parameter, (f"the name of a {parameter}", _FORM_OF_CODE))
    return f"{quoted(printable(text))} can't be {what}. {form}"


def _path_parameter(description: str, example: str | int, **members: Any) -> Any:  # what Litestar's marker is given
    return PathParameter(description=description, examples=[Example(value=example)], **members)


def query_parameter(description: str, example: str | int, name: str | None = None) -> Any:
    """Marker of a query parameter for the OpenAPI document; `name` is needed where it is no Python name (`from`)."""
    return QueryParameter(name=name, description=description, examples=[Example(value=example)])


_CODE_BOUNDS: Mapping[str, Any] = {"pattern": r"^[A-Za-z0-9][A-Za-z0-9._-]{0,63}$", "max_length": 64}
_NUMBER_BOUNDS: Mapping[str, Any] = {"ge": 1, "le": 1_000_000_000}
GradeCode = Annotated[str, _path_parameter("The code of a grade; case matters.", "TB-130", **_CODE_BOUNDS)]
RevisionNumber = Annotated[int, _path_parameter("The number of a revision, from 1.", 1, **_NUMBER_BOUNDS)]
KeyBeginning = Annotated[
    str,
    _path_parameter("The beginning of a key.", "mky_1a2b3c4d", pattern=r"^mky_[0-9a-f]{8}$", max_length=12),
]
LotId = Annotated[str, _path_parameter("The id of a lot; case matters.", "0412-07", **_CODE_BOUNDS)]
CharacteristicName = Annotated[
    str,
    _path_parameter(
        "A characteristic of the grade.", "breaking_force", pattern=r"^[A-Za-z][A-Za-z0-9._-]{0,62}$", max_length=63
    ),
]
BatchId = Annotated[str, _path_parameter("The id of a batch of the lot.", "T3-000118", **_CODE_BOUNDS)]
VerdictNumber = Annotated[int, _path_parameter("The number of a verdict of the lot, from 1.", 1, ge=1, le=999_999_999)]
ClaimName = Annotated[str, _path_parameter("The name of a claim on the lot.", "R-2027-3", **_CODE_BOUNDS)]
ConcessionName = Annotated[str, _path_parameter("The name of a concession for the lot.", "C-114", **_CODE_BOUNDS)]
LineName = Annotated[str, _path_parameter("A line, or a supplier; case matters.", "L-3", **_CODE_BOUNDS)]
InstrumentId = Annotated[str, _path_parameter("The id of an instrument; case matters.", "TT-2", **_CODE_BOUNDS)]
FileName = Annotated[str, PathParameter()]

Limit = Annotated[
    Annotated[int, Meta(ge=1, le=MOST_AT_ONCE)] | None,
    query_parameter(f"The most entries of one answer; {MOST_AT_ONCE} if left out.", 10),
]

IfMatch = Annotated[str | None, HeaderParameter(name="If-Match")]
IfNoneMatch = Annotated[str | None, HeaderParameter(name="If-None-Match")]


class Parameter(NamedTuple):
    """A query parameter: its name, the type of its value, and an example."""

    name: str
    type: Any
    """A list for a parameter that may be repeated."""
    example: object

    @property
    def value_type(self) -> Any:
        """The type of one value."""
        return get_args(self.type)[0] if self.may_repeat else self.type

    @property
    def may_repeat(self) -> bool:
        """Whether the parameter may stand in the query several times."""
        return get_origin(self.type) is list


def parameters_of(handler: BaseRouteHandler) -> Sequence[Parameter]:
    """The query parameters of a handler, read from its signature."""
    parameters = []
    for name, field in handler.parsed_fn_signature.parameters.items():
        if isinstance(field.kwarg_definition, QueryParameter):
            # Optional parameters are typed `X | None`; what a caller can write is the X.
            field_type = (
                next((inner for inner in field.inner_types if not inner.is_none_type), field) if field.is_union else field
            )
            shown = field.kwarg_definition.examples or [Example(value="")]
            parameters.append(Parameter(field.kwarg_definition.name or name, field_type.raw, shown[0].value))
    return parameters


def check_query(query: bytes, parameters: Sequence[Parameter]) -> None:
    """Raise FlawedDocumentError with every flaw of a query, with `at` as /NAME.

    Litestar itself ignores unknown parameters and takes the last of repeated ones, so this check comes before its own.
    """
    try:
        # ValueError also for more than 100 parameters. Strict, as a value that is not UTF-8 could not be quoted back in a flaw.
        pairs = parse_qsl(query.decode(), keep_blank_values=True, errors="strict", max_num_fields=MOST_PARAMETERS)
    except ValueError as error:
        text = "The query can't be read. Write it as `name=value`, in UTF-8, percent-encoded."
        raise FlawedDocumentError([Flaw("not-a-query", text, "")]) from error
    known = {parameter.name: parameter for parameter in parameters}
    if flaws := gathered(_query_flaws(pairs, known)):
        raise FlawedDocumentError(flaws)


def _parsed_value(text: str, type_: object) -> object:
    """The value of a parameter of this type: an int for a whole number, None for a text that is no whole number."""
    if not isinstance(msgspec.inspect.type_info(type_), msgspec.inspect.IntType):
        return text
    return int(text) if _WHOLE.match(text) else None


def _value_flaws(value: object, type_: object, at: str) -> Sequence[Flaw]:
    """The flaws of the value of the parameter that `at` points to."""
    return day_or_moment_flaws(str(value), at) if type_ == DayOrMoment else check_shape(value, type_, at)


def _query_flaws(pairs: Sequence[tuple[str, str]], known: Mapping[str, Parameter]) -> Iterator[Flaw]:
    """The flaws of names and values, in the order of the query."""
    seen: set[str] = set()
    for name, text in pairs:
        value = _parsed_value(text, known[name].value_type) if name in known else None
        if name not in known:
            remedy = did_you_mean(name, known) or (f" Use {listed(known)}." if known else " Leave the query out.")
            yield Flaw("unknown-parameter", f"There is no parameter {quoted(name)} here.{remedy}", member_pointer("", name))
        elif name in seen and not known[name].may_repeat:
            yield Flaw("parameter-twice", f"`{name}` is in the query twice. Remove one of the two.", f"/{name}")
        elif value is None:
            remedy = "Write a whole number in digits, without a zero in front."
            yield Flaw("not-whole", f"{quoted(text)} is not a whole number. {remedy}", f"/{name}")
        else:
            yield from _value_flaws(value, known[name].value_type, f"/{name}")
        seen.add(name)
