"""How many lots came out how, then and now."""

from collections import Counter
from collections.abc import Mapping

from msgspec import UNSET, Struct, field

from service.engine.documents import Outcome
from service.engine.impact.documents import LotCount, RequirementCounts

ThenNow = tuple[Outcome | None, Outcome | None]
"""What it was and what it would be; None where that side has no such requirement."""
ORDER = (Outcome.PASS, Outcome.UNDECIDED, Outcome.FAIL, None)


class Tally(Struct):
    """Counts over lots, small however many they are."""

    judged: int = 0
    changed: int = 0
    flawed: int = 0
    outcomes: Counter[ThenNow] = field(default_factory=Counter)
    requirements: dict[str, Counter[ThenNow]] = field(default_factory=dict)

    def add(self, then: Outcome, now: Outcome, requirements: Mapping[str, ThenNow], *, is_changed: bool) -> None:
        """One lot that was judged again."""
        self.judged += 1
        self.changed += is_changed
        self.outcomes[then, now] += 1
        for name, both in requirements.items():
            self.requirements.setdefault(name, Counter())[both] += 1

    def add_flawed(self) -> None:
        """One lot that can't be judged by the revision."""
        self.judged += 1
        self.changed += 1
        self.flawed += 1

    def add_all(self, other: "Tally") -> None:
        """All that another one has counted."""
        self.judged += other.judged
        self.changed += other.changed
        self.flawed += other.flawed
        self.outcomes.update(other.outcomes)
        for name, counts in other.requirements.items():
            self.requirements.setdefault(name, Counter()).update(counts)

    def of_lots(self) -> list[LotCount]:
        """The outcomes of lots."""
        return _counted(self.outcomes)

    def of_requirements(self) -> list[RequirementCounts]:
        """The outcomes of each requirement, in the order in which they were met with."""
        return [RequirementCounts(requirement=name, outcomes=_counted(counts)) for name, counts in self.requirements.items()]


def _counted(counts: Mapping[ThenNow, int]) -> list[LotCount]:
    """In the order pass, undecided, fail, none."""
    ordered = sorted(counts, key=lambda both: (ORDER.index(both[0]), ORDER.index(both[1])))
    return [
        LotCount(then=UNSET if then is None else then, now=UNSET if now is None else now, lots=counts[then, now])
        for then, now in ordered
    ]
