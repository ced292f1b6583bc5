"""How severely the lots of a line are inspected: what its history brings, and what a manager decides."""

from collections import OrderedDict
from collections.abc import Iterable, Sequence
from datetime import timedelta
from typing import NamedTuple

import msgspec
from msgspec import UNSET, Struct, UnsetType, field

from service.engine.documents import (
    Code,
    Flaw,
    FlawedDocumentError,
    Inspection,
    LongText,
    Name,
    RequirementId,
    did_you_mean,
    listed,
    quoted,
)
from service.engine.ledger import Carried, encoded
from service.engine.switching import Decision, LineHistory, LotResults, Override, Subject, override_flaws, subjects_of
from service.ports.catalogue import Moment
from service.ports.ledger import ContentDiffersError
from service.ports.lines import LineDecision, Lines
from service.usecases.grades import CachedGrade
from service.usecases.repeating import content_flaws

MOST_EVENTS = 200_000
"""Lots and decisions in memory, of all lines together; the line that was not asked for longest goes first."""
LATE = timedelta(seconds=60)
"""So much later than its moment a verdict may be there to read: a transaction takes its moment before it is committed."""
MOST_LISTED = 20


class Decided(Struct, frozen=True, forbid_unknown_fields=True):
    """A manager's decision about a class, or about a requirement by variables, under an id of the caller's own, and why."""

    id: Code
    inspection: Inspection
    """Of the lots that are opened from now on; `tightened` takes acceptance up again where it was discontinued."""
    reason: LongText
    class_: Name | UnsetType = field(default=UNSET, name="class")
    requirement: RequirementId | UnsetType = UNSET


class KnownLine(NamedTuple):
    """A line as far as it is known here, and until when."""

    history: LineHistory
    until: Moment
    decisions: dict[str, LineDecision]


decided_of = msgspec.json.Decoder(Decided).decode
"""The document of a decision that is kept."""


class LineHistories:
    """The histories of lines, in memory, of which each look reads only what has come since the one before."""

    def __init__(self, lines: Lines, most_events: int = MOST_EVENTS) -> None:
        """Read them there, and hold at most so many events."""
        self._lines, self._most = lines, most_events
        self._known: OrderedDict[tuple[str, str], KnownLine] = OrderedDict()

    async def of(self, grade: str, line: str) -> KnownLine:
        """A line as it is by now."""
        key = (grade, line)
        before = self._known.get(key)
        part = await self._lines.recorded(grade, line, before.until - LATE if before else None)
        known = self._known.get(key)
        if known is None and before is not None:
            # Dropped meanwhile, and only what came of late was read.
            return await self.of(grade, line)
        # Another look may have ended meanwhile; both take in what each has read, and nothing counts twice.
        known = known or KnownLine(LineHistory(), part.now, {})
        lots = [LotResults(each.at, each.lot, each.number, each.results) for each in part.lots]
        known.history.take([*lots, *map(_decision, part.decisions)])
        known.decisions.update({each.id: each for each in part.decisions})
        self._known[key] = known = known._replace(until=max(part.now, known.until))
        self._known.move_to_end(key)
        self._drop_the_oldest()
        return known

    async def carried(self, held: CachedGrade, line: str, before: Iterable[Carried] = ()) -> list[Carried]:
        """Where the classes of a lot of the line stand that is judged by this revision; those told before stay as they were."""
        subjects = subjects_of(held.compiled.requirements)
        if not subjects:
            return []
        told = {_subject(each): each for each in before}
        history = (await self.of(held.grade, line)).history
        return [told.get(subject) or _carried(subject, history) for subject in subjects]

    async def discontinued(self, held: CachedGrade, line: str) -> list[Subject]:
        """In which of those that bind by this revision acceptance is discontinued by now."""
        subjects = subjects_of([each for each in held.compiled.requirements if each.binding])
        if not subjects:
            return []
        history = (await self.of(held.grade, line)).history
        return [each for each in subjects if history.course(each).standing.state == "discontinued"]

    async def decide(self, held: CachedGrade, line: str, document: Decided, by: str) -> tuple[LineDecision, bool]:
        """(the decision, True), or (the one before, False) where the same was recorded under its id.

        Raises FlawedDocumentError, and ContentDiffersError where something else is kept under the id.
        """
        known = await self.of(held.grade, line)
        if document.id not in known.decisions and (flaws := list(_flaws(held, known.history, document))):
            raise FlawedDocumentError(flaws)
        kept, is_new = await self._lines.decide(held.grade, line, document.id, encoded(document), by)
        if not is_new and kept.document != encoded(document):
            before, now = msgspec.json.decode(kept.document), msgspec.json.decode(encoded(document))
            text = f"{quoted(document.id)} is a decision about line {line} already, with other content. Use an id of its own."
            raise ContentDiffersError(text, content_flaws(before, now))
        return kept, is_new

    def _drop_the_oldest(self) -> None:
        """Until what is held is within the bound, or one line is left."""
        while len(self._known) > 1 and sum(each.history.events for each in self._known.values()) > self._most:
            self._known.popitem(last=False)


def subjects_shown(held: CachedGrade, history: LineHistory) -> Sequence[Subject]:
    """All that is switched by the revision, and what else the history tells of."""
    return list(dict.fromkeys([*subjects_of(held.compiled.requirements), *history.subjects]))


def _decision(kept: LineDecision) -> Decision:
    document = decided_of(kept.document)
    override = Override(id=kept.id, inspection=document.inspection, reason=document.reason)
    return Decision(kept.at, _subject(document), override)


def _subject(of: Carried | Decided) -> Subject:
    return Subject("class", of.class_) if of.class_ else Subject("requirement", str(of.requirement))


def _carried(subject: Subject, history: LineHistory) -> Carried:
    state = history.course(subject).standing.state
    return Carried(state, class_=subject.name) if subject.sort == "class" else Carried(state, requirement=subject.name)


def _flaws(held: CachedGrade, history: LineHistory, document: Decided) -> Iterable[Flaw]:
    """What is wrong with a decision beside the grade and the history."""
    if bool(document.class_) == bool(document.requirement):
        text = "A decision is about a `class`, or about a `requirement` by variables. Give one of the two."
        yield Flaw("class-or-requirement", text, "")
        return
    subject, known = _subject(document), subjects_shown(held, history)
    if subject not in known:
        names = [each.name for each in known if each.sort == subject.sort]
        remedy = did_you_mean(subject.name, names) or (f" It has {listed(names[:MOST_LISTED], 'and')}." if names else "")
        text = f"The grade has no {subject.sort} {quoted(subject.name)} whose plan is of a table that switches.{remedy}"
        yield Flaw(f"unknown-{subject.sort}", text, f"/{subject.sort}")
        return
    yield from override_flaws(history.course(subject).standing, document.inspection, "/inspection")
