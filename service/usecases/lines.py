"""Severity of inspection of a line's lots: by the line's history, and by decisions of a manager."""

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
"""Maximum number of lots and decisions in memory, of all lines; the least recently used line is evicted first."""
LATE = timedelta(seconds=60)
"""The longest time between a verdict's moment and its commit: a transaction takes its moment before it commits."""
MOST_LISTED = 20


class Decided(Struct, frozen=True, forbid_unknown_fields=True):
    """A manager's decision on the inspection of a class or of a requirement by variables, with the caller's id and a reason."""

    id: Code
    inspection: Inspection
    """Severity for lots opened from now on; `tightened` resumes acceptance that was discontinued."""
    reason: LongText
    class_: Name | UnsetType = field(default=UNSET, name="class")
    requirement: RequirementId | UnsetType = UNSET


class KnownLine(NamedTuple):
    """The history of a line in memory, and the moment up to which it was read."""

    history: LineHistory
    until: Moment
    decisions: dict[str, LineDecision]


decided_of = msgspec.json.Decoder(Decided).decode
"""Decodes the document of a stored decision."""


class LineHistories:
    """A cache of line histories; each use reads only what was recorded since the previous one."""

    def __init__(self, lines: Lines, most_events: int = MOST_EVENTS) -> None:
        """Read from a port, and hold at most `most_events` lots and decisions."""
        self._lines, self._most = lines, most_events
        self._known: OrderedDict[tuple[str, str], KnownLine] = OrderedDict()

    async def of(self, grade: str, line: str) -> KnownLine:
        """Return the current history of a line."""
        key = (grade, line)
        before = self._known.get(key)
        # A minute of overlap, as verdicts may be committed after later moments were read already.
        part = await self._lines.recorded(grade, line, before.until - LATE if before else None)
        known = self._known.get(key)
        if known is None and before is not None:
            # Evicted during the read, which covered only the latest events: read all of it.
            return await self.of(grade, line)
        # A concurrent call may have finished during the read; both add what they have read, and `take` ignores duplicates.
        known = known or KnownLine(LineHistory(), part.now, {})
        lots = [LotResults(each.at, each.lot, each.number, each.results) for each in part.lots]
        known.history.take([*lots, *map(_decision, part.decisions)])
        known.decisions.update({each.id: each for each in part.decisions})
        self._known[key] = known = known._replace(until=max(part.now, known.until))
        self._known.move_to_end(key)
        self._evict()
        return known

    async def carried(self, held: CachedGrade, line: str, before: Iterable[Carried] = ()) -> list[Carried]:
        """Return the severity of each class for a new lot of the line, by this revision; those in `before` stay unchanged."""
        subjects = subjects_of(held.compiled.requirements)
        if not subjects:
            return []
        unchanged = {_subject(carried): carried for carried in before}
        history = (await self.of(held.grade, line)).history
        return [unchanged.get(subject) or _carried(subject, history) for subject in subjects]

    async def discontinued(self, held: CachedGrade, line: str) -> list[Subject]:
        """Return the binding classes and requirements of this revision whose acceptance is discontinued now."""
        subjects = subjects_of([rule for rule in held.compiled.requirements if rule.binding])
        if not subjects:
            return []
        history = (await self.of(held.grade, line)).history
        return [subject for subject in subjects if history.course(subject).standing.state == "discontinued"]

    async def decide(self, held: CachedGrade, line: str, document: Decided, by: str) -> tuple[LineDecision, bool]:
        """Return (new decision, True), or (stored decision, False) if the same one was recorded under its id.

        Raises FlawedDocumentError, and ContentDiffersError if another decision is stored under the id.
        """
        known = await self.of(held.grade, line)
        if document.id not in known.decisions and (flaws := list(_flaws(held, known.history, document))):
            raise FlawedDocumentError(flaws)
        stored, is_new = await self._lines.decide(held.grade, line, document.id, encoded(document), by)
        if not is_new and stored.document != encoded(document):
            before, now = msgspec.json.decode(stored.document), msgspec.json.decode(encoded(document))
            text = f"{quoted(document.id)} is already a decision about line {line}, with other content. Use another id."
            raise ContentDiffersError(text, content_flaws(before, now))
        return stored, is_new

    def _evict(self) -> None:
        """Evict lines until the limit is met, or one line is left."""
        while len(self._known) > 1 and sum(each.history.events for each in self._known.values()) > self._most:
            self._known.popitem(last=False)


def subjects_shown(held: CachedGrade, history: LineHistory) -> Sequence[Subject]:
    """Return the subjects that the revision switches, then others that the history has."""
    return list(dict.fromkeys([*subjects_of(held.compiled.requirements), *history.subjects]))


def _decision(stored: LineDecision) -> Decision:
    document = decided_of(stored.document)
    override = Override(id=stored.id, inspection=document.inspection, reason=document.reason)
    return Decision(stored.at, _subject(document), override)


def _subject(of: Carried | Decided) -> Subject:
    return Subject("class", of.class_) if of.class_ else Subject("requirement", str(of.requirement))


def _carried(subject: Subject, history: LineHistory) -> Carried:
    state = history.course(subject).standing.state
    return Carried(state, class_=subject.name) if subject.sort == "class" else Carried(state, requirement=subject.name)


def _flaws(held: CachedGrade, history: LineHistory, document: Decided) -> Iterable[Flaw]:
    """Flaws of a decision, given the grade and the history."""
    if bool(document.class_) == bool(document.requirement):
        text = "A decision needs a `class`, or a `requirement` by variables, and not both. Give one of the two."
        yield Flaw("class-or-requirement", text, "")
        return
    subject, known = _subject(document), subjects_shown(held, history)
    if subject not in known:
        names = [each.name for each in known if each.sort == subject.sort]
        remedy = did_you_mean(subject.name, names) or (f" Use {listed(names[:MOST_LISTED])}." if names else "")
        text = f"The grade has no {subject.sort} {quoted(subject.name)} with a plan that has switching rules.{remedy}"
        yield Flaw(f"unknown-{subject.sort}", text, f"/{subject.sort}")
        return
    yield from override_flaws(history.course(subject).standing, document.inspection, "/inspection")
