"""Lines: how severely their lots are inspected."""

from msgspec.structs import asdict

from service.api.decoding import Shape, decoded
from service.api.line_documents import ClassShown, DecisionShown, LineShown
from service.api.problems import CREATED, OK, Answer
from service.api.requests import Request
from service.api.service import Service, shown
from service.engine.switching import LineHistory, Subject
from service.ports import LineDecision
from service.usecases.ledger.lines import Decided, decided_of, subjects_shown
from service.usecases.ledger.trending import of_grade
from service.usecases.shelf import Held

DECIDED = Shape(Decided)


async def show_line(request: Request, service: Service) -> Answer:
    """How severely the next lot of a line is inspected, and why."""
    return shown(await _line(service, await _held(request, service), request.path["line"]))


async def decide_inspection(request: Request, service: Service) -> Answer:
    """A manager's decision."""
    held, document = await _held(request, service), await decoded(request.body, DECIDED)
    _, is_new = await service.lines.decide(held, request.path["line"], document, request.by.name)
    return shown(await _line(service, held, request.path["line"]), CREATED if is_new else OK)


async def _held(request: Request, service: Service) -> Held:
    """The revision in force."""
    return await of_grade(service.catalogue, service.shelf, request.path["grade"], None)


async def _line(service: Service, held: Held, line: str) -> LineShown:
    known = await service.lines.of(held.grade, line)
    decisions = sorted(known.decisions.values(), key=lambda each: (each.at, each.id))
    return LineShown(
        grade=held.grade,
        line=line,
        classes=[_class(subject, known.history) for subject in subjects_shown(held, known.history)],
        decisions=[_decision(each) for each in decisions],
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


def _decision(kept: LineDecision) -> DecisionShown:
    return DecisionShown(at=kept.at, by=kept.by, **asdict(decided_of(kept.document)))
