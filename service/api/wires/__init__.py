"""A request and its answer, by whichever protocol the server hands them over."""

from collections.abc import Sequence
from typing import NamedTuple, Protocol, Self

Head = Sequence[tuple[str, str]]
"""Header fields of an answer, their names in small letters."""


class Shared(NamedTuple):
    """Header fields that many answers have alike, made once for either protocol."""

    texts: Head
    encoded: Sequence[tuple[bytes, bytes]]

    @classmethod
    def of(cls, texts: Head) -> Self:
        """These."""
        return cls(texts, encoded(texts))


class WholeHead(NamedTuple):
    """All header fields of an answer."""

    shared: Shared
    own: list[tuple[str, str]]


def encoded(head: Head) -> list[tuple[bytes, bytes]]:
    """As bytes."""
    return [(name.encode(), text.encode()) for name, text in head]


class Gone(Exception):  # noqa: N818  not an error: the caller has hung up
    """Nobody waits for the answer any more."""


class CutOffError(Exception):
    """A body ended before it was whole, or has trailers, which the server does not tell apart."""


class Fields(Protocol):
    """Header fields of a request, by their names in small letters."""

    def get(self, name: str, /) -> str | None:
        """The text of a field; None where there is none, or none in ASCII."""

    def __contains__(self, name: str, /) -> bool:
        """Whether there is such a field."""

    def __getitem__(self, name: str, /) -> str:
        """The text of a field that is there; what can't be read is empty, or any text."""


class Wire(Protocol):
    """One request, and the way back."""

    method: str
    path: str
    """Percent-decoded."""
    query: str
    """As it was sent."""

    @property
    def headers(self) -> Fields:
        """Its header fields."""

    @property
    def is_old(self) -> bool:
        """True of HTTP/1.0."""

    async def body(self, most: int) -> bytes:
        """The whole body; of one with more than so many bytes at least one byte more. Raises Gone, CutOffError."""

    async def pour_away(self, most: int) -> None:
        """Take and forget what still comes of the body, up to so many bytes."""

    async def send(self, status: int, head: WholeHead, body: bytes) -> None:
        """The whole answer. Raises OSError where it can't be sent."""

    async def begin(self, status: int, head: WholeHead) -> None:
        """Of an answer that comes in parts, all but these."""

    async def send_part(self, part: bytes) -> None:
        """The next part, as soon as it is taken; an empty one is the last. Raises OSError."""

    async def hung_up(self) -> None:
        """Return when the caller has hung up; for answers that come in parts."""
