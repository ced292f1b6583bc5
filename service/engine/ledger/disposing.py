"""What persons do with a lot: the documents of concessions and dispositions, and the fold over them."""

from collections.abc import Iterator
from copy import copy
from datetime import datetime
from typing import Literal, NamedTuple

import msgspec
from msgspec import UNSET, Struct, UnsetType, field

from service.engine.documents import Code, Flaw, LongText, RevisionNumber, Text
from service.engine.ledger.documents import Change, VerdictNumber

CONCESSION, OF_CONCESSIONS = "concession", "/concessions/"
"""The kind of a change that grants a concession, and how its key begins; its name follows."""
DISPOSITION = "disposition"
Purpose = Literal["release", "regrade"]
"""What a concession allows: that a lot goes out although no verdict passes it, as its own grade or as another one."""
Disposing = Literal["release", "hold", "regrade", "rework", "scrap"]
"""What is done with a lot: it goes out, stays, goes out as another grade, is worked over, or is thrown away."""


class Concession(Struct, frozen=True, forbid_unknown_fields=True):
    """That a lot may go out although no verdict passes it: by whose authority, and why."""

    authority: Text
    """Who allows it, or the paper in which it is allowed."""
    reason: LongText
    for_: Purpose = field(name="for")
    grade: Code | UnsetType = UNSET
    """As which the lot may go out; of a regrade only."""


class StoredConcession(Concession, frozen=True, forbid_unknown_fields=True):
    """A concession as it is kept."""

    verdict: VerdictNumber | UnsetType = UNSET
    """The lot's newest one when it was granted, whose findings it makes good; left out where there was none."""


class Disposition(Struct, frozen=True, forbid_unknown_fields=True):
    """What is done with a lot, under an id of the caller's own, and why."""

    id: Code
    disposition: Disposing
    reason: LongText
    grade: Code | UnsetType = UNSET
    """As which the lot goes out; of a regrade only."""
    concession: Code | UnsetType = UNSET
    """The one that allows it, where the verdict does not."""


class StoredDisposition(Disposition, frozen=True, forbid_unknown_fields=True):
    """A disposition as it is kept, with what it rests on."""

    verdict: VerdictNumber | UnsetType = UNSET
    """The lot's newest one by then; left out where there was none."""
    revision: RevisionNumber | UnsetType = UNSET
    """Of a regrade: the one of the grade that was in force."""
    one_person: bool | UnsetType = UNSET
    """True where who disposed had granted the concession too, which a setting allowed."""


class Granted(NamedTuple):
    """A concession, when it was granted, and by whom."""

    document: StoredConcession
    at: datetime
    by: str


class Disposed(NamedTuple):
    """A disposition, when it was made, and by whom."""

    number: int
    """From 1, in the order in which the lot's dispositions were recorded; the last one counts."""
    document: StoredDisposition
    at: datetime
    by: str

    def is_of_earlier_verdict(self, verdicts: int) -> bool:
        """Whether a verdict was recorded since. `verdicts` is how many the lot has."""
        return verdicts > (self.document.verdict or 0)


class LotDispositions:
    """What persons have decided on a lot."""

    def __init__(self) -> None:
        """Nothing yet."""
        self.concessions: dict[str, Granted] = {}
        self.dispositions: list[Disposed] = []
        self.numbers: dict[str, int] = {}
        """Of dispositions, by their ids."""

    def copy(self) -> "LotDispositions":
        """Another one that can be changed for itself."""
        made = copy(self)
        made.concessions, made.dispositions = self.concessions.copy(), self.dispositions.copy()
        made.numbers = self.numbers.copy()
        return made

    def grant(self, change: Change) -> None:
        """One concession more."""
        name = change.key.removeprefix(OF_CONCESSIONS)
        self.concessions[name] = Granted(_concession(change.document), change.at, change.by)

    def dispose(self, change: Change) -> None:
        """One disposition more, which counts from now on."""
        number = self.numbers[change.key] = len(self.dispositions) + 1
        self.dispositions.append(Disposed(number, _disposition(change.document), change.at, change.by))


_concession = msgspec.json.Decoder(StoredConcession).decode
_disposition = msgspec.json.Decoder(StoredDisposition).decode


def concession_key(name: str) -> str:
    """The key of the change that grants a concession."""
    return f"{OF_CONCESSIONS}{name}"


def concession_flaws(concession: Concession, own: str) -> Iterator[Flaw]:
    """What is wrong with a concession for a lot of the grade `own`, whatever else is known of it."""
    yield from _grade_flaws(concession.grade, own, is_asked=concession.for_ == "regrade")


def disposition_flaws(disposition: Disposition, own: str) -> Iterator[Flaw]:
    """The same of a disposition."""
    yield from _grade_flaws(disposition.grade, own, is_asked=disposition.disposition == "regrade")
    if disposition.concession and disposition.disposition not in ("release", "regrade"):
        text = f"To {disposition.disposition} a lot takes no concession. Leave it out."
        yield Flaw("concession-not-needed", text, "/concession")


def _grade_flaws(grade: str | UnsetType, own: str, *, is_asked: bool) -> Iterator[Flaw]:
    """A grade is named for a regrade and for nothing else, and it is another one."""
    if is_asked and isinstance(grade, UnsetType):
        yield Flaw("grade-not-named", "It is not said as which grade the lot is to go out. Name the `grade`.", "/grade")
    elif is_asked and grade == own:
        yield Flaw("grade-of-lot", f"The lot is of {own} already. Name another grade, or ask for a release.", "/grade")
    elif grade and not is_asked:
        yield Flaw("grade-not-asked", f"A `grade` is named for a regrade only; the lot stays {own}. Leave it out.", "/grade")
