"""The interface of a requirement during preparation, so that a lot is prepared without knowing the kinds of requirement."""

from collections.abc import Iterator, Sequence
from typing import Protocol

from msgspec import UnsetType

from service.engine.documents import Evidence, Flaw
from service.engine.lot.counting import CountsNeeded


class LotQuestions(Protocol):
    """The members of a compiled requirement that the preparation of a lot uses."""

    @property
    def id(self) -> str:
        """The id of the requirement in the grade."""

    @property
    def class_name(self) -> str | UnsetType:
        """The class of faults that it counts; UNSET for a requirement that counts none."""

    @property
    def events(self) -> Sequence[str]:
        """The events on whose dates it depends."""

    @property
    def asked(self) -> Sequence[CountsNeeded]:
        """The counts that it needs."""

    def flaws_in(self, evidence: Evidence) -> Iterator[Flaw]:
        """The flaws of the evidence with regard to this requirement alone, with pointers into the evidence."""
