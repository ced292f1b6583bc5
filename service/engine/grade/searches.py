"""The bound on the number of plans that a specification makes the engine search for."""

from collections.abc import Iterator
from itertools import chain

from msgspec import UNSET

from service.engine.documents import Flaw
from service.engine.grade.specification import Characteristic, Specification
from service.engine.requirements import Requirement
from service.engine.sampling import TwoPoint

MOST_SEARCHES = 20
"""The most different plans to search for: each takes most of a second where its two qualities are near to each other."""


def searches_flaws(specification: Specification) -> Iterator[Flaw]:
    """At most one flaw, at the first two-point plan beyond MOST_SEARCHES different ones."""
    # Only different ones count, since a search is cached by its plan.
    different = set[TwoPoint]()
    for plan, at in _plans(specification):
        different.add(plan)
        if len(different) > MOST_SEARCHES:
            text = (
                f"A grade may have at most {MOST_SEARCHES} different two-point plans, and this is one more. "
                "Use fewer, or other plans."
            )
            yield Flaw("too-many-searches", text, at)
            return


def _plans(specification: Specification) -> Iterator[tuple[TwoPoint, str]]:
    """The two-point plans of the specification with their pointers, in the order of the document."""
    characteristics = ((f"/characteristics/{number}", each) for number, each in enumerate(specification.characteristics))
    requirements = ((f"/requirements/{number}", each) for number, each in enumerate(specification.requirements))
    for at, holder in chain(characteristics, requirements):
        for sample, below in _samples(holder):
            if isinstance(sample, TwoPoint):
                yield sample, f"{at}{below}"


def _samples(holder: Characteristic | Requirement) -> Iterator[tuple[object, str]]:
    """The samples of a characteristic or a requirement, UNSET where it has none, with their pointers inside it."""
    # By name, as some kinds have no sample and a characteristic has no retest; a new kind is found here without a change.
    retest = getattr(holder, "retest", UNSET)
    yield getattr(holder, "sample", UNSET), "/sample"
    yield getattr(retest, "sample", UNSET), "/retest/sample"
