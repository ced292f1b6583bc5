"""Counts of lots and of requirements by their outcomes, then and now."""

from collections import Counter
from collections.abc import Mapping

from msgspec import UNSET, Struct, field

from service.engine.documents import Outcome
from service.engine.impact.documents import LotCount, RequirementCounts

ThenNow = tuple[Outcome | None, Outcome | None]
"""(outcome in the verdict, outcome by the revision); None where that side has no such requirement."""
REPORTED_ORDER = (Outcome.PASS, Outcome.UNDECIDED, Outcome.FAIL, None)


class Tally(Struct):
    """Counts over lots, of a size that does not depend on their number; processes send it to each other."""

    judged: int = 0
    changed: int = 0
    flawed: int = 0
    outcomes: Counter[ThenNow] = field(default_factory=Counter)
    requirements: dict[str, Counter[ThenNow]] = field(default_factory=dict)

    def add(self, then: Outcome, now: Outcome, requirements: Mapping[str, ThenNow], *, is_changed: bool) -> None:
        """Count a lot that was judged again, with the outcomes of its requirements by name."""
        self.judged += 1
        self.changed += is_changed
        self.outcomes[then, now] += 1
        for name, both in requirements.items():
            self.requirements.setdefault(name, Counter())[both] += 1

    def add_flawed(self) -> None:
        """Count a lot whose evidence the revision cannot judge."""
        # It has no outcome by the revision, so it is in no count of outcomes.
        self.judged += 1
        self.changed += 1
        self.flawed += 1

    def add_all(self, other: "Tally") -> None:
        """Add the counts of another tally."""
        self.judged += other.judged
        self.changed += other.changed
        self.flawed += other.flawed
        self.outcomes.update(other.outcomes)
        for name, counts in other.requirements.items():
            self.requirements.setdefault(name, Counter()).update(counts)

    def of_lots(self) -> list[LotCount]:
        """The counts of lots by outcome."""
        return _counted(self.outcomes)

    def of_requirements(self) -> list[RequirementCounts]:
        """The counts of each requirement by outcome, in the order in which the requirements were first counted."""
        return [RequirementCounts(requirement=name, outcomes=_counted(counts)) for name, counts in self.requirements.items()]


def _counted(counts: Mapping[ThenNow, int]) -> list[LotCount]:
    """The counts as reported, in the order pass, undecided, fail, none."""
    ordered = sorted(counts, key=lambda both: (REPORTED_ORDER.index(both[0]), REPORTED_ORDER.index(both[1])))
    return [
        LotCount(then=UNSET if then is None else then, now=UNSET if now is None else now, lots=counts[then, now])
        for then, now in ordered
    ]
