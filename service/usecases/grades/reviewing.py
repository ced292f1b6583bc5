"""Review of a specification before it is posted: every flaw, or advice."""

from msgspec import Struct

from service.engine.documents import Flaw, FlawedDocumentError
from service.engine.grade import Specification, compile_specification
from service.engine.reviewing import advice_on


class Review(Struct, frozen=True):
    """Flaws of a specification, or advice to its author on one without flaws."""

    flaws: list[Flaw]
    advice: list[Flaw]


def review(specification: Specification) -> Review:
    """Compile a well-formed specification and return all its flaws, or advice on one without flaws."""
    try:
        return Review([], advice_on(compile_specification(specification)))
    except FlawedDocumentError as error:
        return Review(list(error.flaws), [])
