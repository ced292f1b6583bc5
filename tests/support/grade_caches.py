"""What tests of a replica's memory share: a clock that is told to go, and grades that are released in one line."""

from datetime import timedelta

import msgspec

from service.engine.grade import Specification
from service.ports.catalogue import Catalogue
from service.usecases.grades import GradeCache
from service.usecases.grades import catalogue as use


class Ticks:
    """A clock that goes when it is told to."""

    def __init__(self) -> None:
        """Begin at 0 s."""
        self.seconds = 0.0

    def __call__(self) -> float:
        """Seconds."""
        return self.seconds


def strength(lower: int, *further: int) -> Specification:
    """A requirement on the mean breaking force, in newtons, for each of these lower limits."""
    document = {
        "characteristics": [{"name": "breaking_force", "unit": "N"}],
        "requirements": [
            {"id": f"strength-{limit}", "kind": "mean", "of": "breaking_force", "limits": {"lower": limit}}
            for limit in (lower, *further)
        ],
    }
    return msgspec.convert(document, Specification)


async def release_as(catalogue: Catalogue, grade_cache: GradeCache, grade: str, specification: Specification) -> None:
    """A further revision of a grade with this document, in force at once."""
    draft, _ = await use.add_draft(catalogue, grade, specification)
    await use.release(catalogue, grade_cache, grade, draft.number, effective_from=None, expected=None)


async def release(
    catalogue: Catalogue, grade_cache: GradeCache, grade: str, lower: int, *further: int, after_s: float = 0
) -> None:
    """A further revision of a grade, in force at once or so many seconds from now."""
    draft, _ = await use.add_draft(catalogue, grade, strength(lower, *further))
    start = (await catalogue.current_state()).now + timedelta(seconds=after_s) if after_s else None
    await use.release(catalogue, grade_cache, grade, draft.number, effective_from=start, expected=None)
