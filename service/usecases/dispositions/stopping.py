"""Lines at which acceptance is discontinued: what of them keeps a lot from going out, whatever its verdict is."""

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
    """Acceptance that is discontinued at a line, for a grade, in some of its classes or requirements by variables."""

    grade: str
    line: str
    subjects: Sequence[Subject]
    at: str
    """Pointer to what of the request it keeps from being done."""

    @property
    def text(self) -> str:
        """What is discontinued, and what takes it up again."""
        named = listed([each.name for each in self.subjects], "and")
        return (
            f"Acceptance of {self.grade} from line {self.line} is discontinued in {named}, as too many lots under tightened "
            f"inspection were not accepted. When the cause is mended, take it up again, with the reason: "
            f"`POST /v1/grades/{self.grade}/switching/{self.line}/override` with `tightened` as the `inspection`."
        )

    @property
    def flaw(self) -> Flaw:
        """The same for a program."""
        return Flaw("line-discontinued", self.text, self.at)


async def stops_of(lines: LineHistories, grade_cache: GradeCache, row: LotRow, to: Regrading | None) -> Sequence[Stop]:
    """What is discontinued by now of the lot's line: for its own grade, and for the one that it is to go out as.

    A class that the lot is not judged by, and a requirement that binds nothing, stop nothing; a lot without a line is not
    concerned. Source: MIL-STD-105E, 4.8.
    """
    if not row.line:
        return ()
    asked = [(row.grade, row.revision, "/disposition")]
    if to and to.revision:
        asked.append((to.grade, to.revision, "/grade"))
    found = []
    for grade, revision, at in asked:
        held = await held_by(grade_cache, grade, revision, "")
        if subjects := await lines.discontinued(held, row.line):
            found.append(Stop(grade, row.line, subjects, at))
    return found
