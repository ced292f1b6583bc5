"""The controller of switching: the severity of inspection of a line's next lot."""

from litestar import Controller, Response
from litestar.di import NamedDependency
from litestar.params import JSONBody
from msgspec import Struct
from msgspec.structs import asdict

from service.api.answers import created_or_found
from service.api.bodies.receiving import StrictRequest
from service.api.handlers import get, post
from service.api.lines import operations
from service.api.lines.documents import ClassShown, DecisionShown, LineShown
from service.api.operations import documented
from service.api.parameters import GradeCode, LineName
from service.engine.switching import LineHistory, Subject
from service.ports.catalogue import Catalogue
from service.ports.lines import LineDecision
from service.usecases.grades import CachedGrade, GradeCache
from service.usecases.lines import Decided, LineHistories, decided_of, subjects_shown
from service.usecases.trends import of_grade


class Lines(Struct, frozen=True):
    """What these handlers need: the histories of lines and their grades."""

    catalogue: Catalogue
    grade_cache: GradeCache
    histories: LineHistories

    async def held(self, grade: str) -> CachedGrade:
        """The revision of a grade that is in force, compiled."""
        return await of_grade(self.catalogue, self.grade_cache, grade, None)


class LineController(Controller):
    """The severity of inspection of a line, and decisions about it."""

    path = "/v1/grades/{grade:str}/switching/{line:str}"

    @get(**documented(operations.SHOW_SWITCHING))
    async def show(self, grade: GradeCode, line: LineName, lines: NamedDependency[Lines]) -> LineShown:
        """Show the severity of inspection of the next lot, and why."""
        return await _line(lines, await lines.held(grade), line)

    @post("/override", **documented(operations.DECIDE_INSPECTION))
    async def decide(
        self,
        grade: GradeCode,
        line: LineName,
        data: JSONBody[Decided],
        lines: NamedDependency[Lines],
        request: StrictRequest,
    ) -> Response[LineShown]:
        """Record a manager's decision about the inspection of a line."""
        held = await lines.held(grade)
        _, is_new = await lines.histories.decide(held, line, data, request.user.name)
        return created_or_found(await _line(lines, held, line), is_new=is_new)


async def _line(lines: Lines, held: CachedGrade, line: str) -> LineShown:
    known = await lines.histories.of(held.grade, line)
    decisions = sorted(known.decisions.values(), key=lambda decision: (decision.at, decision.id))
    return LineShown(
        grade=held.grade,
        line=line,
        classes=[_class(subject, known.history) for subject in subjects_shown(held, known.history)],
        decisions=[_decision(decision) for decision in decisions],
    )


def _class(subject: Subject, history: LineHistory) -> ClassShown:
    course = history.course(subject)
    standing = course.standing
    named = {"class_" if subject.sort == "class" else "requirement": subject.name}
    return ClassShown(
        **named,
        state=standing.state,
        inspection=standing.next_inspection,
        recent=list(standing.recent),
        accepted_in_a_row=standing.accepted_in_a_row,
        rejected=standing.rejected,
        switches=course.switches,
    )


def _decision(decision: LineDecision) -> DecisionShown:
    return DecisionShown(at=decision.at, by=decision.by, **asdict(decided_of(decision.document)))
