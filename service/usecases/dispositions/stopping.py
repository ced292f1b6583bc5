"""Lines whose acceptance is discontinued, which keeps their lots from going out, whatever their verdicts."""

from collections.abc import Sequence
from typing import NamedTuple

from service.engine.documents import Flaw, listed
from service.engine.ledger import LotRow
from service.engine.switching import Subject
from service.usecases.dispositions.regrading import Regrading
from service.usecases.grades import GradeCache
from service.usecases.judging import held_by
from service.usecases.lines import LineHistories


class Stop(NamedTuple):
    """Discontinued acceptance of a line, for a grade, in some of its classes or requirements by variables."""

    grade: str
    line: str
    subjects: Sequence[Subject]
    at: str
    """Pointer to the member of the request that it refuses."""

    @property
    def text(self) -> str:
        """The sentence about what is discontinued, and what resumes it."""
        named = listed([each.name for each in self.subjects], "and")
        return (
            f"Acceptance of {self.grade} from line {self.line} is discontinued for {named}, as too many lots under tightened "
            f"inspection were not accepted. When the cause is removed, resume acceptance, with the reason: "
            f"`POST /v1/grades/{self.grade}/switching/{self.line}/override` with `tightened` as the `inspection`."
        )

    @property
    def flaw(self) -> Flaw:
        """The flaw with this sentence."""
        return Flaw("line-discontinued", self.text, self.at)


async def stops_of(lines: LineHistories, grade_cache: GradeCache, row: LotRow, to: Regrading | None) -> Sequence[Stop]:
    """Return the discontinued acceptance of the lot's line, for its own grade and the one that it is regraded to.

    Only binding classes and requirements that the lot is judged by count; empty for a lot without a line. Source:
    MIL-STD-105E, 4.8.
    """
    if not row.line:
        return ()
    # Asked as the lot goes out, not as it is judged: a verdict is the lot's own, and its line may have changed since.
    asked = [(row.grade, row.revision, "/disposition")]
    if to and to.revision:
        asked.append((to.grade, to.revision, "/grade"))
    found = []
    for grade, revision, at in asked:
        held = await held_by(grade_cache, grade, revision, "")
        if subjects := await lines.discontinued(held, row.line):
            found.append(Stop(grade, row.line, subjects, at))
    return found
