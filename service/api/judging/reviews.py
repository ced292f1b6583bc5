"""Reviews of any JSON as a specification."""

from service.api.strict.decoding import Shape, decode_and_check
from service.engine.documents import FlawedDocumentError
from service.engine.grade import CompiledGrade, Specification, compile_specification
from service.usecases.grades import Review, review
from service.usecases.threads import run_in_thread

SPECIFICATION = Shape(Specification)


async def compiled(specification: Specification) -> CompiledGrade:
    """Compile a specification in a thread, as some take long. Raises FlawedDocumentError."""
    return await run_in_thread(compile_specification, specification)


async def review_json(body: bytes) -> Review:
    """Every flaw of shape and meaning, or advice where there is none. Raises NotJsonError only, as flaws are the answer."""
    try:
        return await run_in_thread(review, await decode_and_check(compiled, body, SPECIFICATION))
    except FlawedDocumentError as error:
        return Review(list(error.flaws), [])
