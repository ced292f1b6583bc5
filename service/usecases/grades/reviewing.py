"""Looking a specification over before it is posted: every flaw of it, and advice."""

from msgspec import Struct

from service.engine.documents import Flaw, FlawedDocumentError
from service.engine.grade import Specification, compile_specification
from service.engine.reviewing import advice_on


class Review(Struct, frozen=True):
    """What is wrong with a specification, and what its writer might want to think over; advice only where nothing is wrong."""

    flaws: list[Flaw]
    advice: list[Flaw]


def review(specification: Specification) -> Review:
    """Every flaw of meaning in a specification that has the right shape, or advice on one without flaws."""
    try:
        return Review([], advice_on(compile_specification(specification)))
    except FlawedDocumentError as error:
        return Review(list(error.flaws), [])
