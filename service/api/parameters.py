"""Parameters of paths and queries: what may stand there, and the strict reading of a query."""

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Annotated, Any, NamedTuple
from urllib.parse import parse_qsl

import msgspec
from litestar.handlers import BaseRouteHandler
from litestar.openapi.spec import Example
from litestar.params import HeaderParameter, PathParameter, QueryParameter
from msgspec import Meta

from service.api.strict.grammar import below
from service.api.strict.shapes import check_shape
from service.engine.documents import Flaw, FlawedDocumentError, did_you_mean, gathered, listed, quoted
from service.usecases.paging import MOST_AT_ONCE

_CODE = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}")
_NUMBER = re.compile(r"[1-9][0-9]{0,8}")
NAMES: Mapping[str, re.Pattern[str]] = {
    **dict.fromkeys(("grade", "lot", "batch", "claim", "concession", "instrument", "line"), _CODE),
    **dict.fromkeys(("revision", "verdict"), _NUMBER),
    "key": re.compile(r"mky_[0-9a-f]{8}"),
    "characteristic": re.compile(r"[A-Za-z][A-Za-z0-9._-]{0,62}"),
    "file": re.compile(r"[a-z-]+\.[a-z]+"),
}
"""What may stand in a path where it says {NAME}; whatever else stands there is no path."""
MOST_PARAMETERS = 100
_WHOLE = re.compile(r"(0|[1-9][0-9]{0,9})\Z")


def _named(description: str, example: str | int, **members: Any) -> Any:  # what Litestar's marker is given
    return PathParameter(description=description, examples=[Example(value=example)], **members)


def asked(description: str, example: str | int, name: str | None = None) -> Any:
    """What is told of a parameter of a query; `name` where Python has none like it."""
    return QueryParameter(name=name, description=description, examples=[Example(value=example)])


_LIKE_A_CODE: Mapping[str, Any] = {"pattern": r"^[A-Za-z0-9][A-Za-z0-9._-]{0,63}$", "max_length": 64}
_LIKE_A_NUMBER: Mapping[str, Any] = {"ge": 1, "le": 1_000_000_000}
GradeCode = Annotated[str, _named("The code of a grade; case matters.", "TB-130", **_LIKE_A_CODE)]
RevisionNumber = Annotated[int, _named("The number of a revision, from 1.", 1, **_LIKE_A_NUMBER)]
KeyBeginning = Annotated[
    str, _named("The beginning by which a key is recognised.", "mky_1a2b3c4d", pattern=r"^mky_[0-9a-f]{8}$", max_length=12)
]
LotId = Annotated[str, _named("The id of a lot; case matters.", "0412-07", **_LIKE_A_CODE)]
CharacteristicName = Annotated[
    str,
    _named("A characteristic of the grade.", "breaking_force", pattern=r"^[A-Za-z][A-Za-z0-9._-]{0,62}$", max_length=63),
]
BatchId = Annotated[str, _named("The id of a batch of the lot.", "T3-000118", **_LIKE_A_CODE)]
VerdictNumber = Annotated[int, _named("The number of a verdict of the lot, from 1.", 1, ge=1, le=999_999_999)]
ClaimName = Annotated[str, _named("The name of a claim on the lot.", "R-2027-3", **_LIKE_A_CODE)]
ConcessionName = Annotated[str, _named("The name of a concession for the lot.", "C-114", **_LIKE_A_CODE)]
LineName = Annotated[str, _named("A line, or a supplier; case matters.", "L-3", **_LIKE_A_CODE)]
InstrumentId = Annotated[str, _named("The id of an instrument; case matters.", "TT-2", **_LIKE_A_CODE)]
FileName = Annotated[str, PathParameter()]

Limit = Annotated[
    Annotated[int, Meta(ge=1, le=MOST_AT_ONCE)] | None, asked(f"So many at most; {MOST_AT_ONCE} where it is left out.", 10)
]

IfMatch = Annotated[str | None, HeaderParameter(name="If-Match")]
IfNoneMatch = Annotated[str | None, HeaderParameter(name="If-None-Match")]


class Parameter(NamedTuple):
    """A parameter of a query: its name, the type of its value, and one that is shown."""

    name: str
    of: Any
    example: object


def parameters_of(handler: BaseRouteHandler) -> Sequence[Parameter]:
    """The parameters of a query as the handler's signature names them."""
    made = []
    for name, field in handler.parsed_fn_signature.parameters.items():
        if isinstance(field.kwarg_definition, QueryParameter):
            of = next((inner for inner in field.inner_types if not inner.is_none_type), field) if field.is_union else field
            shown = field.kwarg_definition.examples or [Example(value="")]
            made.append(Parameter(field.kwarg_definition.name or name, of.raw, shown[0].value))
    return made


def check_query(query: bytes, parameters: Sequence[Parameter]) -> None:
    """Raise FlawedDocumentError with every flaw of a query, with `at` as /NAME; Litestar would let some of them pass."""
    try:
        # What is no UTF-8 can't be written as it either.
        pairs = parse_qsl(query.decode(), keep_blank_values=True, errors="strict", max_num_fields=MOST_PARAMETERS)
    except ValueError as error:
        text = "The query can't be read. Write it as name=value, in UTF-8, percent-encoded."
        raise FlawedDocumentError([Flaw("not-a-query", text, "")]) from error
    known = {parameter.name: parameter for parameter in parameters}
    if flaws := gathered(_query_flaws(pairs, known)):
        raise FlawedDocumentError(flaws)


def _value(text: str, of: object) -> object:
    """The text, as a whole number where one is asked for; None where it is none."""
    if not isinstance(msgspec.inspect.type_info(of), msgspec.inspect.IntType):
        return text
    return int(text) if _WHOLE.match(text) else None


def _query_flaws(pairs: Sequence[tuple[str, str]], known: Mapping[str, Parameter]) -> Iterator[Flaw]:
    """What is wrong with the names and the values, in the order of the query."""
    seen: set[str] = set()
    for name, text in pairs:
        value = _value(text, known[name].of) if name in known else None
        if name not in known:
            remedy = did_you_mean(name, known) or (f" Known here: {listed(known, 'and')}." if known else " None is taken here.")
            yield Flaw("unknown-parameter", f"There is no parameter {quoted(name)}.{remedy}", below("", name))
        elif name in seen:
            yield Flaw("parameter-twice", f"`{name}` stands twice in the query. Leave one.", f"/{name}")
        elif value is None:
            remedy = "Write it in digits alone, without a zero in front."
            yield Flaw("not-whole", f"`{name}` must be a whole number. {remedy}", f"/{name}")
        else:
            yield from (flaw.below(f"/{name}") for flaw in check_shape(value, known[name].of))
        seen.add(name)
