"""One request as a handler sees it, and the strict reading of its query."""

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple
from urllib.parse import parse_qsl

import msgspec
from msgspec import Struct

from service.api.grammar import below
from service.api.shapes import check_shape
from service.api.wires import Fields
from service.engine.flaws import Flaw, FlawedDocumentError, did_you_mean, listed, quoted
from service.usecases.principals import LOCAL, Principal

_WHOLE = re.compile(r"(0|[1-9][0-9]{0,9})\Z")
MOST_PARAMETERS = 100


class Request(Struct, frozen=True):
    """What a handler may look at."""

    body: bytes
    headers: Fields
    path: Mapping[str, str]
    query: Mapping[str, Any]
    by: Principal = LOCAL
    """Who asks."""

    def header(self, name: str) -> str | None:
        """The text of a header field; None where there is none, empty or any text where it can't be read."""
        return self.headers[name] if name in self.headers else None  # noqa: SIM401  get tells no unreadable one from none


class Parameter(NamedTuple):
    """A parameter of a query: its name, the type of its value, and what it is for."""

    name: str
    of: Any
    description: str
    example: str | int


def read_query(query: str, parameters: Sequence[Parameter]) -> dict[str, Any]:
    """The values of a query by name, each of its type. Raises FlawedDocumentError with `at` as /NAME."""
    if not query:
        return {}
    try:
        # What is no UTF-8 can't be written as it either.
        query.encode()
        pairs = parse_qsl(query, keep_blank_values=True, errors="strict", max_num_fields=MOST_PARAMETERS)
    except ValueError as error:
        text = "The query can't be read. Write it as name=value, in UTF-8, percent-encoded."
        raise FlawedDocumentError([Flaw("not-a-query", text, "")]) from error
    known = {parameter.name: parameter for parameter in parameters}
    values = {name: _value(text, known[name].of) for name, text in pairs if name in known}
    if flaws := list(_query_flaws(pairs, values, known)):
        raise FlawedDocumentError(flaws)
    return {name: msgspec.convert(value, known[name].of) for name, value in values.items()}


def _value(text: str, of: object) -> object:
    """The text, as a whole number where one is asked for; None where it is none."""
    if not isinstance(msgspec.inspect.type_info(of), msgspec.inspect.IntType):
        return text
    return int(text) if _WHOLE.match(text) else None


def _query_flaws(
    pairs: Sequence[tuple[str, str]], values: Mapping[str, object], known: Mapping[str, Parameter]
) -> Iterator[Flaw]:
    """What is wrong with the names and the values, in the order of the query."""
    seen: set[str] = set()
    for name, _ in pairs:
        if name not in known:
            remedy = did_you_mean(name, known) or (f" Known here: {listed(known, 'and')}." if known else " None is taken here.")
            yield Flaw("unknown-parameter", f"There is no parameter {quoted(name)}.{remedy}", below("", name))
        elif name in seen:
            yield Flaw("parameter-twice", f"`{name}` stands twice in the query. Leave one.", f"/{name}")
        elif values[name] is None:
            text = f"`{name}` must be a whole number. Write it in digits alone, without a zero in front."
            yield Flaw("not-whole", text, f"/{name}")
        else:
            yield from (flaw.below(f"/{name}") for flaw in check_shape(values[name], known[name].of))
        seen.add(name)
