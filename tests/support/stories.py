"""Stories of lots, told by chance: whatever callers may do to one, in any order, by any replica; some of it is refused."""

import random
from collections.abc import Awaitable, Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Any

import msgspec

from service.engine.documents import FlawedDocumentError
from service.engine.grade import Specification
from service.engine.ledger import AttributesAdded, Claim, Closing, Concession, Correction, Disposition, Opening, RevisionMoved
from service.ports.catalogue import Catalogue, StateError
from service.ports.ledger import Ledger
from service.usecases.claims import put_claim
from service.usecases.dispositions.disposing import dispose, grant
from service.usecases.grades import GradeCache
from service.usecases.lines import LineHistories
from service.usecases.lots.closing import close_lot
from service.usecases.lots.correcting import correct_lot
from service.usecases.lots.opening import add_attributes, move_revision, open_lot
from service.usecases.lots.readings import record_batch, strike
from tests.support.grade_caches import release_as
from tests.support.grades import FORCE as CHARACTERISTIC
from tests.support.grades import fixed, grade, mean
from tests.support.ledgers import BY, FORCE, GRADE, batch
from tests.support.ledgers import strike as struck

STEPS = 14
REVISIONS = 3
WHY = "The printout of the tester says so."
SPECIFICATION = grade(mean(lower=1400), of={**CHARACTERISTIC, "sample": fixed(3)})


async def released(catalogue: Catalogue) -> GradeCache:
    """A grade cache, with the revisions released that the lots go by."""
    grade_cache = GradeCache(catalogue)
    for number in range(REVISIONS):
        document = {**SPECIFICATION, "title": f"Edition {number}"}
        await release_as(catalogue, grade_cache, GRADE, msgspec.convert(document, Specification))
    return grade_cache


@dataclass
class Account:
    """What a clerk would note of a lot, from what was asked and which verdicts were told."""

    revision: int = 1
    told: dict[str, Any] = field(default_factory=dict)
    line: str | None = None
    disposition: str | None = None
    attributes: set[tuple[str, str]] = field(default_factory=set)


class Story:
    """One lot, by two replicas in turn."""

    def __init__(
        self, chance: random.Random, grade_cache: GradeCache, ledgers: Sequence[Ledger], lines: LineHistories, lot: str
    ) -> None:
        """Keep what it works with."""
        self.chance, self.grade_cache, self.ledgers, self.lines, self.lot = chance, grade_cache, ledgers, lines, lot
        self.account, self.batches, self.number = Account(), list[str](), 0

    @property
    def ledger(self) -> Ledger:
        """Either replica."""
        return self.chance.choice(self.ledgers)

    async def run(self) -> None:
        """Open it, then do what comes; what is refused leaves nothing."""
        line, size = self.chance.choice([None, "L-4"]), self.chance.choice([None, 480])
        bale = {"name": "bale", "value": str(self.chance.randint(1, 3))}
        members = {"line": line, "size": size, "attributes": [bale]}
        # Not by chance, so that what follows in a story stays the same.
        made = {"made": f"2026-11-{10 + len(self.lot + bale['value'])}"} if bale["value"] != "3" else {}
        opening = {"grade": GRADE, "revision": 1, **made, **{name: said for name, said in members.items() if said}}
        await open_lot(self.ledger, self.grade_cache, self.lot, msgspec.convert(opening, Opening), BY)
        self.account.line = line
        self.account.told = {"size": size} if size else {}
        self.account.attributes.add(("bale", bale["value"]))
        steps: list[Callable[[], Awaitable[None]]]
        steps = [
            self.measure,
            self.measure,
            self.strike,
            self.close,
            self.correct,
            self.move,
            self.name,
            self.dispose,
            self.claim,
        ]
        for _ in range(STEPS):
            self.number += 1
            with suppress(StateError, FlawedDocumentError):
                await self.chance.choice(steps)()

    def _told(self) -> dict[str, Any]:
        return {"lot": {"size": self.chance.choice([480, 500])}} if self.chance.random() < 0.3 else {}

    def _values(self) -> list[float]:
        return [self.chance.choice([1300.0, 1410.0, 1500.0]) for _ in range(self.chance.randint(1, 2))]

    async def measure(self) -> None:
        """A batch."""
        key, told = f"B{self.number}", self._told()
        await record_batch(self.ledger, self.grade_cache, self.lot, batch(key, *self._values(), **told), BY)
        self.account.told |= told.get("lot", {})
        self.batches.append(key)

    async def strike(self) -> None:
        """A reading out."""
        key = self.chance.choice(self.batches or ["none"])
        await strike(self.ledger, self.grade_cache, self.lot, struck(f"S{self.number}", key, "/series/0/values/0"), BY)

    async def close(self) -> None:
        """A verdict, where there is none."""
        await close_lot(self.ledger, self.grade_cache, self.lot, Closing(), BY)

    async def correct(self) -> None:
        """Readings more, and perhaps otherwise what was told."""
        told = self._told()
        series = [{**FORCE, "values": self._values()}]
        document = {"id": f"C{self.number}", "reason": WHY, "series": series, **told}
        await correct_lot(self.ledger, self.grade_cache, self.lot, msgspec.convert(document, Correction), BY)
        self.account.told |= told.get("lot", {})

    async def move(self) -> None:
        """Another revision."""
        to = self.chance.choice([2, REVISIONS])
        await move_revision(self.ledger, self.grade_cache, self.lot, RevisionMoved(f"M{self.number}", to, WHY), BY)
        self.account.revision = to

    async def name(self) -> None:
        """An attribute, perhaps one that is there."""
        bale = {"name": "bale", "value": str(self.chance.randint(1, 3))}
        added = msgspec.convert({"id": f"A{self.number}", "attributes": [bale]}, AttributesAdded)
        await add_attributes(self.ledger, self.lot, added, BY)
        self.account.attributes.add(("bale", bale["value"]))

    async def dispose(self) -> None:
        """What is done with it, perhaps by a concession."""
        what, by = self.chance.choice(["hold", "scrap", "release"]), {}
        if what == "release" and self.chance.random() < 0.5:
            name = f"K{self.number}"
            document = {"authority": "The buyer", "reason": WHY, "for": "release"}
            await grant(self.ledger, self.grade_cache, self.lot, name, msgspec.convert(document, Concession), "anna")
            by = {"concession": name}
        asked = msgspec.convert({"id": f"D{self.number}", "disposition": what, "reason": WHY, **by}, Disposition)
        await dispose(self.ledger, self.grade_cache, self.lines, self.lot, asked, "otto")
        self.account.disposition = what

    async def claim(self) -> None:
        """What a buyer says against it."""
        document = {"from": "A buyer", "received_on": "2026-11-01", "requirements": [SPECIFICATION["requirements"][0]["id"]]}
        await put_claim(self.ledger, self.grade_cache, self.lot, f"Q{self.number}", msgspec.convert(document, Claim), BY)
