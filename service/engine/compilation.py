"""Specification → compiled grade, or every flaw in it at once."""

from msgspec import Struct

from service.engine.specification import Specification


class CompiledGrade(Struct, frozen=True):
    """A specification without flaws, ready to judge by."""

    digest: str


def compile_specification(specification: Specification) -> CompiledGrade:
    """Compile, or raise FlawedDocumentError with every flaw."""
    raise NotImplementedError(specification)
