"""Concessions and dispositions of lots, and the conditions of a release or regrade."""

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
    """A disposition, the lot's current number of verdicts, and whether the disposition is new."""

    disposed: Disposed
    verdicts: int
    is_new: bool


async def grant(ledger: Ledger, grade_cache: GradeCache, lot: str, name: str, concession: Concession, by: str) -> NewlyGranted:
    """Grant a concession for a lot in any state; a repeated one stays that of its first author.

    Raises LotUnknownError, ContentDiffersError, and FlawedDocumentError, also for a grade that can't be judged by.
    """
    own, key, digest = (await ledger.row(lot)).grade, concession_key(name), digest_of_sent(concession)
    flaws = list(concession_flaws(concession, own)) or await _flaws_of_grade(grade_cache, concession.grade)

    def decide(pending: PendingLot) -> Decided:
        existing_row(pending, lot)
        if is_repeated(pending.find(key), CONCESSION, digest):
            return Decided(number=number_of(pending, key))
        if flaws:
            raise FlawedDocumentError(flaws)
        stored = StoredConcession(**asdict(concession), verdict=newest_verdict(pending) or UNSET)
        return Decided(changes=[NewChange(by=by, kind=CONCESSION, key=key, digest=digest, document=encoded(stored))])

    recorded = await record_or_compare(ledger, lot, key, concession, decide)
    return NewlyGranted(recorded.folded.handled.concessions[name], bool(recorded.decided.changes))


async def concession_of(ledger: Ledger, lot: str, name: str) -> Granted:
    """Return a concession of a lot. Raises LotUnknownError, ChangeUnknownError."""
    found = (await ledger.folded(lot)).handled.concessions.get(name)
    if found is None:
        text = f"Lot {lot} has no concession {quoted(name)}. `GET /v1/lots/{lot}/concessions` lists its concessions."
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
    """Record a disposition of a lot; repeating is safe, and of concurrent ones the last one counts.

    one_person_may  whether the person who granted a concession may dispose by it too, as the caller `local` always may

    Raises LotUnknownError, ContentDiffersError, FlawedDocumentError; ConcessionNeededError if the lot's verdict or its
    discontinued line does not permit it, SecondPersonNeededError if the same person granted the concession.
    """
    own, digest = (await ledger.row(lot)).grade, digest_of_sent(asked)
    flaws = list(disposition_flaws(asked, own))

    async def attempt() -> Recorded:
        to = await regrading(ledger, grade_cache, lot, asked) if not flaws else None
        # Before the transaction: a verdict on another lot of the line, committed in between, does not hold this lot up.
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
            is_same_person = _is_same_person(folded, asked, by, one_person_may=one_person_may)
            if _goes_by_verdict(asked):
                _check_verdict(folded, to)
                _check_line(lot, stops)
            stored = _with_reasons(folded, asked, to, is_same_person=is_same_person)
            change = NewChange(by=by, kind=DISPOSITION, key=asked.id, digest=digest, document=encoded(stored))
            return Decided(changes=[change])

        return await record_or_compare(ledger, lot, asked.id, asked, decide)

    recorded = await attempt()
    while not (recorded.decided.changes or recorded.decided.number):
        # Another verdict was recorded after the evidence was judged for the other grade.
        recorded = await attempt()
    folded = recorded.folded
    disposed = folded.handled.dispositions[folded.handled.numbers[asked.id] - 1]
    return NewlyDisposed(disposed, len(folded.verdicts), bool(recorded.decided.changes))


def _is_same_person(folded: LotHistory, asked: Disposition, by: str, *, one_person_may: bool) -> bool:
    """Check the named concession, and return whether the same person granted it.

    Raises FlawedDocumentError at /concession, ConcessionNeededError, SecondPersonNeededError.
    """
    if isinstance(asked.concession, UnsetType):
        return False
    granted = folded.handled.concessions.get(asked.concession)
    if flaws := _concession_flaws(granted, asked, folded.lot):
        raise FlawedDocumentError(flaws)
    assert granted is not None
    # A concession is for the newest verdict of its moment: whoever conceded an undecided lot did not concede a failure.
    if (granted.document.verdict or 0) != len(folded.verdicts):
        _refuse_outdated(folded, asked.concession, granted)
    # LOCAL is no person: without keys everybody has this name.
    is_same_person = granted.by == by != LOCAL
    if is_same_person and not one_person_may:
        text = f"{quoted(by)} granted concession {quoted(asked.concession)}. Have another person dispose of the lot by it."
        raise SecondPersonNeededError(text)
    return is_same_person


def _concession_flaws(granted: Granted | None, asked: Disposition, lot: str) -> list[Flaw]:
    """Flaws of a named concession that does not exist or allows another disposition."""
    if granted is None:
        text = (
            f"Lot {lot} has no concession {quoted(asked.concession)}. `GET /v1/lots/{lot}/concessions` lists its concessions."
        )
        return [Flaw("unknown-concession", text, "/concession")]
    of = granted.document
    if (of.for_, of.grade) == (asked.disposition, asked.grade):
        return []
    allowed = f"{of.for_} as {of.grade}" if of.grade else of.for_
    text = f"Concession {quoted(asked.concession)} allows a {allowed} and nothing else. Give one that allows this."
    return [Flaw("concession-for-other", text, "/concession")]


def _refuse_outdated(folded: LotHistory, name: str, granted: Granted) -> NoReturn:
    """Raise ConcessionNeededError for a concession granted before the newest verdict."""
    newest = folded.verdicts[-1]
    on = f"on verdict {granted.document.verdict}" if granted.document.verdict else "before the lot had a verdict"
    text = f"Concession {quoted(name)} was granted {on}; verdict {newest.number}, recorded since then, is `{newest.outcome}`."
    remedy = "Have another one granted"
    if newest.outcome is Outcome.PASS:
        remedy += ", or leave `concession` out if the verdict allows it"
    raise ConcessionNeededError(f"{text} {remedy}.")


def _goes_by_verdict(asked: Disposition) -> bool:
    """True for a release or regrade without a concession."""
    return asked.disposition in ("release", "regrade") and not asked.concession


def _with_reasons(folded: LotHistory, asked: Disposition, to: Regrading | None, *, is_same_person: bool) -> StoredDisposition:
    """Return the disposition with the verdict and revision that it rests on."""
    return StoredDisposition(
        **asdict(asked),
        verdict=len(folded.verdicts) or UNSET,
        revision=to.revision if to else UNSET,
        one_person=is_same_person or UNSET,
    )


def _check_line(lot: str, stops: Sequence[Stop]) -> None:
    """Raise ConcessionNeededError if acceptance of the lot's line is discontinued."""
    if stops:
        raise ConcessionNeededError(f"{stops[0].text} {_concession_hint(lot)}", [each.flaw for each in stops])


def _check_verdict(folded: LotHistory, to: Regrading | None) -> None:
    """Raise ConcessionNeededError unless the lot passes its own grade, or the one that it is regraded to."""
    lot, number = folded.lot, len(folded.verdicts)
    if not number:
        raise ConcessionNeededError(
            f"Lot {lot} has no verdict. Close it first: `POST /v1/lots/{lot}/close`. {_concession_hint(lot)}"
        )
    if to and to.unmet:
        raise ConcessionNeededError(_unmet(lot, to), to.unmet)
    newest = folded.verdicts[-1].outcome
    if not to and newest is not Outcome.PASS:
        text = f"Verdict {number} on lot {lot} is `{newest}`, and only a lot that passes can be released by its verdict."
        raise ConcessionNeededError(f"{text} {_concession_hint(lot)}")


def _unmet(lot: str, to: Regrading) -> str:
    """The sentence about requirements of the other grade that the lot does not meet."""
    by = f"revision {to.revision} of {to.grade}"
    text = f"The evidence of verdict {to.verdict} on lot {lot} can't be judged by {by}."
    if to.names:
        text = f"By the evidence of verdict {to.verdict} lot {lot} does not meet {listed(to.names, 'and')} of {by}."
    return f"{text} Choose another grade. {_concession_hint(lot)}"


def _concession_hint(lot: str) -> str:
    """The sentence about the concession that would permit it."""
    path = f"`PUT /v1/lots/{lot}/concessions/{{concession}}`"
    return f"To send it out all the same, have another person grant a concession, {path}, and give it as `concession`."


async def _flaws_of_grade(grade_cache: GradeCache, grade: str | UnsetType) -> Sequence[Flaw]:
    """Return the flaws of a named grade that can't be judged by."""
    if isinstance(grade, UnsetType):
        return ()
    try:
        await held_by(grade_cache, grade, None, "")
    except FlawedDocumentError as error:
        return error.flaws
    return ()
