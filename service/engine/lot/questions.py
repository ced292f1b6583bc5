"""What a requirement asks of the evidence on a lot, so that a lot can be prepared without knowing the kinds of requirement."""

from collections.abc import Iterator, Sequence
from typing import Protocol

from msgspec import UnsetType

from service.engine.documents import Evidence, Flaw
from service.engine.lot.counting import CountsNeeded


class LotQuestions(Protocol):
    """A compiled requirement, as far as the preparation of a lot needs it."""

    @property
    def id(self) -> str:
        """Its name in the grade."""

    @property
    def class_name(self) -> str | UnsetType:
        """The class of faults that it counts, where it counts one."""

    @property
    def events(self) -> Sequence[str]:
        """The events whose dates it goes by."""

    @property
    def asked(self) -> Sequence[CountsNeeded]:
        """What it asks to be counted."""

    def flaws_in(self, evidence: Evidence) -> Iterator[Flaw]:
        """What is wrong with the evidence in the light of this requirement alone; the places are in the evidence."""
