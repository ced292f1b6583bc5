"""How many plans a specification makes the engine search for."""

from collections.abc import Iterator
from itertools import chain

from msgspec import UNSET

from service.engine.documents import Flaw
from service.engine.grade.specification import Characteristic, Specification
from service.engine.requirements import Requirement
from service.engine.sampling import TwoPoint

MOST_SEARCHES = 20
"""Each takes most of a second where its two qualities are near to each other."""


def searches_flaws(specification: Specification) -> Iterator[Flaw]:
    """Not more different plans to search for than somebody can wait for; told at the first that is one too many."""
    different = set[TwoPoint]()
    for plan, at in _plans(specification):
        different.add(plan)
        if len(different) > MOST_SEARCHES:
            text = f"A specification may have {MOST_SEARCHES} different plans for two points. Take fewer, or other plans."
            yield Flaw("too-many-searches", text, at)
            return


def _plans(specification: Specification) -> Iterator[tuple[TwoPoint, str]]:
    """The plans to search for, and where they stand."""
    characteristics = ((f"/characteristics/{number}", each) for number, each in enumerate(specification.characteristics))
    requirements = ((f"/requirements/{number}", each) for number, each in enumerate(specification.requirements))
    for at, holder in chain(characteristics, requirements):
        for sample, below in _samples(holder):
            if isinstance(sample, TwoPoint):
                yield sample, f"{at}{below}"


def _samples(holder: Characteristic | Requirement) -> Iterator[tuple[object, str]]:
    """The samples that a characteristic or a requirement has, and where they stand in it."""
    retest = getattr(holder, "retest", UNSET)
    yield getattr(holder, "sample", UNSET), "/sample"
    yield getattr(retest, "sample", UNSET), "/retest/sample"
