"""Concessions and dispositions: what persons decide on a lot, and when a verdict alone does not let it go out."""

from collections.abc import Sequence
from typing import NamedTuple, NoReturn

from msgspec import UNSET, UnsetType
from msgspec.structs import asdict

from service.engine.documents import Flaw, FlawedDocumentError, Outcome, listed, quoted
from service.engine.ledger import (
    CONCESSION,
    DISPOSITION,
    Concession,
    Disposed,
    Disposition,
    Granted,
    LotHistory,
    StoredConcession,
    StoredDisposition,
    concession_flaws,
    concession_key,
    disposition_flaws,
    encoded,
)
from service.ports.catalogue import LOCAL, SecondPersonNeededError
from service.ports.ledger import ChangeUnknownError, ConcessionNeededError, Decided, Ledger, NewChange, PendingLot, Recorded
from service.usecases.dispositions.regrading import Regrading, regrading
from service.usecases.dispositions.stopping import Stop, stops_of
from service.usecases.grades import GradeCache
from service.usecases.judging import held_by
from service.usecases.lines import LineHistories
from service.usecases.lots import existing_row, newest_verdict, number_of
from service.usecases.repeating import digest_of_sent, is_repeated, record_or_compare


class NewlyGranted(NamedTuple):
    """A concession of a lot, and whether it is new."""

    granted: Granted
    is_new: bool


class NewlyDisposed(NamedTuple):
    """A disposition, how many verdicts the lot has by now, and whether it is new."""

    disposed: Disposed
    verdicts: int
    is_new: bool


async def grant(ledger: Ledger, grade_cache: GradeCache, lot: str, name: str, concession: Concession, by: str) -> NewlyGranted:
    """A concession for a lot in whatever state, or the same again, which stays that of who granted it first.

    Raises LotUnknownError, ContentDiffersError, and FlawedDocumentError where it names no grade to go by.
    """
    own, key, digest = (await ledger.row(lot)).grade, concession_key(name), digest_of_sent(concession)
    flaws = list(concession_flaws(concession, own)) or await _flaws_of_grade(grade_cache, concession.grade)

    def decide(pending: PendingLot) -> Decided:
        existing_row(pending, lot)
        if is_repeated(pending.find(key), CONCESSION, digest):
            return Decided(number=number_of(pending, key))
        if flaws:
            raise FlawedDocumentError(flaws)
        kept = StoredConcession(**asdict(concession), verdict=newest_verdict(pending) or UNSET)
        return Decided(changes=[NewChange(by=by, kind=CONCESSION, key=key, digest=digest, document=encoded(kept))])

    recorded = await record_or_compare(ledger, lot, key, concession, decide)
    return NewlyGranted(recorded.folded.handled.concessions[name], bool(recorded.decided.changes))


async def concession_of(ledger: Ledger, lot: str, name: str) -> Granted:
    """A concession of a lot. Raises LotUnknownError, ChangeUnknownError."""
    found = (await ledger.folded(lot)).handled.concessions.get(name)
    if found is None:
        text = f"Lot {lot} has no concession {quoted(name)}. `GET /v1/lots/{lot}/concessions` lists those that it has."
        raise ChangeUnknownError(text)
    return found


async def dispose(
    ledger: Ledger,
    grade_cache: GradeCache,
    lines: LineHistories,
    lot: str,
    asked: Disposition,
    by: str,
    *,
    one_person_may: bool = False,
) -> NewlyDisposed:
    """What is done with the lot from now on, or the same again; of several at once the last one counts.

    one_person_may  whether who granted a concession may dispose by it too, as everybody may who is `local`

    Raises LotUnknownError, ContentDiffersError, FlawedDocumentError; ConcessionNeededError where the lot does not go out so by
    its verdict alone, or its line is discontinued, SecondPersonNeededError where the same person granted the concession.
    """
    own, digest = (await ledger.row(lot)).grade, digest_of_sent(asked)
    flaws = list(disposition_flaws(asked, own))

    async def attempt() -> Recorded:
        to = await regrading(ledger, grade_cache, lot, asked) if not flaws else None
        stops = await stops_of(lines, grade_cache, await ledger.row(lot), to) if _goes_by_verdict(asked) and not flaws else ()

        def decide(pending: PendingLot) -> Decided:
            existing_row(pending, lot)
            if is_repeated(pending.find(asked.id), DISPOSITION, digest):
                return Decided(number=number_of(pending, asked.id))
            if wrong := flaws or (to.flaws if to else ()):
                raise FlawedDocumentError(wrong)
            folded = pending.complete_history()
            if to and to.verdict != len(folded.verdicts):
                return Decided()
            is_alone = _is_alone(folded, asked, by, one_person_may=one_person_may)
            if _goes_by_verdict(asked):
                _check_verdict(folded, to)
                _check_line(lot, stops)
            kept = _resting(folded, asked, to, is_alone=is_alone)
            change = NewChange(by=by, kind=DISPOSITION, key=asked.id, digest=digest, document=encoded(kept))
            return Decided(changes=[change])

        return await record_or_compare(ledger, lot, asked.id, asked, decide)

    recorded = await attempt()
    while not (recorded.decided.changes or recorded.decided.number):
        # Another verdict has come since the evidence was looked at.
        recorded = await attempt()
    folded = recorded.folded
    disposed = folded.handled.dispositions[folded.handled.numbers[asked.id] - 1]
    return NewlyDisposed(disposed, len(folded.verdicts), bool(recorded.decided.changes))


def _is_alone(folded: LotHistory, asked: Disposition, by: str, *, one_person_may: bool) -> bool:
    """Whether the concession that is named, which has to be good for this, was granted by the same person.

    Raises FlawedDocumentError at /concession, ConcessionNeededError, SecondPersonNeededError.
    """
    if isinstance(asked.concession, UnsetType):
        return False
    granted = folded.handled.concessions.get(asked.concession)
    if flaws := _misfits(granted, asked, folded.lot):
        raise FlawedDocumentError(flaws)
    assert granted is not None
    if (granted.document.verdict or 0) != len(folded.verdicts):
        _refuse_outdated(folded, asked.concession, granted)
    is_alone = granted.by == by != LOCAL
    if is_alone and not one_person_may:
        text = f"{quoted(by)} granted concession {quoted(asked.concession)}. Let another person dispose of the lot by it."
        raise SecondPersonNeededError(text)
    return is_alone


def _misfits(granted: Granted | None, asked: Disposition, lot: str) -> list[Flaw]:
    """Why there is no such concession for what is asked."""
    if granted is None:
        text = f"Lot {lot} has no concession {quoted(asked.concession)}. `GET /v1/lots/{lot}/concessions` lists those it has."
        return [Flaw("unknown-concession", text, "/concession")]
    of = granted.document
    if (of.for_, of.grade) == (asked.disposition, asked.grade):
        return []
    allowed = f"{of.for_} as {of.grade}" if of.grade else of.for_
    text = f"Concession {quoted(asked.concession)} allows a {allowed}, nothing else. Name one that allows this."
    return [Flaw("concession-for-other", text, "/concession")]


def _refuse_outdated(folded: LotHistory, name: str, granted: Granted) -> NoReturn:
    """Whoever granted it did not know of the newest verdict."""
    newest = folded.verdicts[-1]
    on = f"on verdict {granted.document.verdict}" if granted.document.verdict else "before the lot had a verdict"
    text = f"Concession {quoted(name)} was granted {on}; verdict {newest.number}, which came since, is `{newest.outcome}`."
    remedy = "Have another one granted"
    if newest.outcome is Outcome.PASS:
        remedy += ", or leave `concession` out if the verdict allows it"
    raise ConcessionNeededError(f"{text} {remedy}.")


def _goes_by_verdict(asked: Disposition) -> bool:
    """Whether the lot is to go out, and by no concession."""
    return asked.disposition in ("release", "regrade") and not asked.concession


def _resting(folded: LotHistory, asked: Disposition, to: Regrading | None, *, is_alone: bool) -> StoredDisposition:
    """The disposition with what it rests on."""
    return StoredDisposition(
        **asdict(asked),
        verdict=len(folded.verdicts) or UNSET,
        revision=to.revision if to else UNSET,
        one_person=is_alone or UNSET,
    )


def _check_line(lot: str, stops: Sequence[Stop]) -> None:
    """Whether the lot's line is one whose lots go out. Raises ConcessionNeededError."""
    if stops:
        raise ConcessionNeededError(f"{stops[0].text} {_way(lot)}", [each.flaw for each in stops])


def _check_verdict(folded: LotHistory, to: Regrading | None) -> None:
    """Whether the lot passes: its own grade, by the newest verdict that its changes tell of, or the one it is to go out as.

    Raises ConcessionNeededError.
    """
    lot, number = folded.lot, len(folded.verdicts)
    if not number:
        raise ConcessionNeededError(f"Lot {lot} has no verdict. Close it first: `POST /v1/lots/{lot}/close`. {_way(lot)}")
    if to and to.unmet:
        raise ConcessionNeededError(_unmet(lot, to), to.unmet)
    newest = folded.verdicts[-1].outcome
    if not to and newest is not Outcome.PASS:
        text = f"Verdict {number} on lot {lot} is `{newest}`, and only a lot that passes is released by its verdict."
        raise ConcessionNeededError(f"{text} {_way(lot)}")


def _unmet(lot: str, to: Regrading) -> str:
    """Which requirements of the other grade the lot does not meet."""
    by = f"revision {to.revision} of {to.grade}"
    text = f"The evidence of verdict {to.verdict} on lot {lot} can't be judged by {by}."
    if to.names:
        text = f"By the evidence of verdict {to.verdict} lot {lot} does not meet {listed(to.names, 'and')} of {by}."
    return f"{text} Choose another grade. {_way(lot)}"


def _way(lot: str) -> str:
    """How it goes out all the same."""
    path = f"`PUT /v1/lots/{lot}/concessions/{{concession}}`"
    return f"Where it may go out all the same, have another person grant a concession, {path}, and name it as `concession`."


async def _flaws_of_grade(grade_cache: GradeCache, grade: str | UnsetType) -> Sequence[Flaw]:
    """Why a grade that is named can't be gone by."""
    if isinstance(grade, UnsetType):
        return ()
    try:
        await held_by(grade_cache, grade, None, "")
    except FlawedDocumentError as error:
        return error.flaws
    return ()
