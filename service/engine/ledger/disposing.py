"""Concessions and dispositions of a lot: the documents, their flaws, and those in effect after a lot's changes."""

from collections.abc import Iterator
from copy import copy
from datetime import datetime
from typing import Literal, NamedTuple

import msgspec
from msgspec import UNSET, Struct, UnsetType, field

from service.engine.documents import Code, Flaw, LongText, RevisionNumber, Text
from service.engine.ledger.documents import Change, VerdictNumber

CONCESSION, OF_CONCESSIONS = "concession", "/concessions/"
"""The kind of the change that grants a concession, and the start of its key, before its name."""
DISPOSITION = "disposition"
Purpose = Literal["release", "regrade"]
"""What a concession allows a lot that no verdict passes: release as its own grade, or regrade to another one."""
Disposing = Literal["release", "hold", "regrade", "rework", "scrap"]
"""What is done with a lot: it is released, held, released as another grade, reworked or scrapped."""


class Concession(Struct, frozen=True, forbid_unknown_fields=True):
    """Permission to release or regrade a lot that no verdict passes: by whose authority, and why."""

    authority: Text
    """The person who allows it, or the document in which it is allowed."""
    reason: LongText
    for_: Purpose = field(name="for")
    grade: Code | UnsetType = UNSET
    """The other grade, as which the lot may be released; for a regrade only."""


class StoredConcession(Concession, frozen=True, forbid_unknown_fields=True):
    """A concession as stored."""

    # Only this verdict is made good, not a later one: who conceded an undecided verdict did not concede a failure.

    verdict: VerdictNumber | UnsetType = UNSET
    """Number of the verdict to which it applies: the newest when it was granted; left out where there was none."""


class Disposition(Struct, frozen=True, forbid_unknown_fields=True):
    """What is done with a lot and why, under an id that the caller chooses."""

    id: Code
    disposition: Disposing
    reason: LongText
    grade: Code | UnsetType = UNSET
    """The other grade, as which the lot is released; for a regrade only."""
    concession: Code | UnsetType = UNSET
    """Name of the concession that allows it, where the verdict does not."""


class StoredDisposition(Disposition, frozen=True, forbid_unknown_fields=True):
    """A disposition as stored, with the verdict and the revision on which it rests."""

    verdict: VerdictNumber | UnsetType = UNSET
    """Number of the lot's newest verdict at that moment; left out where there was none."""
    revision: RevisionNumber | UnsetType = UNSET
    """For a regrade: the revision of the other grade that was in force."""
    one_person: bool | UnsetType = UNSET
    """True where one person granted the concession and disposed of the lot, which a setting allows."""


class Granted(NamedTuple):
    """A concession, with the moment and the person of its grant."""

    document: StoredConcession
    at: datetime
    by: str


class Disposed(NamedTuple):
    """A disposition, with the moment and the person of the record."""

    number: int
    """From 1, in the order in which the lot's dispositions were recorded; the last one is in effect."""
    document: StoredDisposition
    at: datetime
    by: str

    def is_of_earlier_verdict(self, verdicts: int) -> bool:
        """True where a verdict was recorded after the disposition. `verdicts` is the number of the lot's verdicts."""
        return verdicts > (self.document.verdict or 0)


class LotDispositions:
    """The concessions and dispositions of a lot."""

    def __init__(self) -> None:
        """Start without any."""
        self.concessions: dict[str, Granted] = {}
        self.dispositions: list[Disposed] = []
        self.numbers: dict[str, int] = {}
        """Numbers of the dispositions, by their ids."""

    def copy(self) -> "LotDispositions":
        """A copy that can be changed without changing this one."""
        made = copy(self)
        made.concessions, made.dispositions = self.concessions.copy(), self.dispositions.copy()
        made.numbers = self.numbers.copy()
        return made

    def grant(self, change: Change) -> None:
        """Add a concession."""
        name = change.key.removeprefix(OF_CONCESSIONS)
        self.concessions[name] = Granted(_concession(change.document), change.at, change.by)

    def dispose(self, change: Change) -> None:
        """Add a disposition, which is in effect from now on."""
        number = self.numbers[change.key] = len(self.dispositions) + 1
        self.dispositions.append(Disposed(number, _disposition(change.document), change.at, change.by))


_concession = msgspec.json.Decoder(StoredConcession).decode
_disposition = msgspec.json.Decoder(StoredDisposition).decode


def concession_key(name: str) -> str:
    """The key of the change that grants a concession."""
    return f"{OF_CONCESSIONS}{name}"


def concession_flaws(concession: Concession, lot_grade: str) -> Iterator[Flaw]:
    """The flaws of a concession for a lot of this grade that do not depend on the state of the lot."""
    yield from _grade_flaws(concession.grade, lot_grade, is_regrade=concession.for_ == "regrade")


def disposition_flaws(disposition: Disposition, lot_grade: str) -> Iterator[Flaw]:
    """The flaws of a disposition for a lot of this grade that do not depend on the state of the lot."""
    yield from _grade_flaws(disposition.grade, lot_grade, is_regrade=disposition.disposition == "regrade")
    # A name without effect would be read as if the concession had allowed something.
    if disposition.concession and disposition.disposition not in ("release", "regrade"):
        text = f"A concession is not needed to {disposition.disposition} a lot. Remove it."
        yield Flaw("concession-not-needed", text, "/concession")


def _grade_flaws(grade: str | UnsetType, lot_grade: str, *, is_regrade: bool) -> Iterator[Flaw]:
    """The flaws of `grade`: a regrade names another grade than the lot's, and nothing else names one."""
    if is_regrade and isinstance(grade, UnsetType):
        text = "The grade under which the lot is to be released is missing. Name it in `grade`."
        yield Flaw("grade-not-named", text, "/grade")
    elif is_regrade and grade == lot_grade:
        yield Flaw("grade-of-lot", f"The lot is already of {lot_grade}. Name another grade, or ask for a release.", "/grade")
    elif grade and not is_regrade:
        text = f"A `grade` is given for a regrade only; the lot stays {lot_grade}. Remove it."
        yield Flaw("grade-not-asked", text, "/grade")
