"""What a flaw is: one thing to mend in a document, said so that its writer can mend it."""

from collections.abc import Iterable, Iterator, Sequence
from contextvars import ContextVar
from difflib import get_close_matches
from functools import lru_cache
from heapq import nlargest
from itertools import islice, pairwise, repeat

from msgspec import Struct

QUOTED_AT_MOST = 40
MOST_COMPARED = 40
"""So many characters of a word are compared with those of known ones."""
LIKELIEST = 6
"""So many known words are compared in full."""
MOST_FOUND = 1000
"""The search for flaws ends at so many; a document with more has enough to mend."""
MOST_GUESSED = 20
"""For so many of the flaws that are gathered together it is told which known word may be meant."""
_WITHOUT_END: Iterator[None] = repeat(None)
_guesses: ContextVar[Iterator[None]] = ContextVar("_guesses", default=_WITHOUT_END)
"""One for each guess that is still made for what is gathered just now."""


class Flaw(Struct, frozen=True, omit_defaults=True):
    """One thing to mend, with two JSON Pointers: into the request and, where there is one, into the grade."""

    code: str
    """Stable, kebab-case, never used again for something else: `unit-of-other-quantity`."""
    text: str
    """What is wrong and what to do, for a person."""
    at: str
    """JSON Pointer into the document, `""` for the whole; for a missing field, the field's own."""
    rule: str = ""
    """JSON Pointer into the grade, where a rule of it is touched."""

    def below(self, prefix: str) -> "Flaw":
        """The same flaw in a document that stands at `prefix` of a larger one."""
        return Flaw(self.code, self.text, prefix + self.at, self.rule)


class FlawedDocumentError(ValueError):
    """A document has flaws; all of them are in `flaws`, in the order of the document."""

    def __init__(self, flaws: Sequence[Flaw]) -> None:
        """Keep the flaws; at least one."""
        super().__init__("; ".join(f"{flaw.at}: {flaw.text}" for flaw in flaws[:5]))
        self.flaws = tuple(flaws)


def gathered(flaws: Iterable[Flaw]) -> list[Flaw]:
    """The first 1,000 of them, in their order, the first of which tell the word that may be meant.

    A guess takes ten times as long as finding a flaw does, or more. What is gathered within this, as for one row of many,
    shares the guesses.
    """
    if _guesses.get() is not _WITHOUT_END:
        return list(islice(flaws, MOST_FOUND))
    token = _guesses.set(repeat(None, MOST_GUESSED))
    try:
        return list(islice(flaws, MOST_FOUND))
    finally:
        _guesses.reset(token)


def quoted(text: object) -> str:
    """What the caller wrote, in backticks, cut at 40 characters."""
    return f"`{cut(str(text))}`"


def cut(text: str) -> str:
    """The text itself, or 39 characters of it and `…`."""
    return text if len(text) <= QUOTED_AT_MOST else text[: QUOTED_AT_MOST - 1] + "…"


def listed(words: Iterable[str], last: str = "or") -> str:
    """The words in backticks as a list in a sentence: `` `N`, `kN` or `lbf` ``; `nothing` where there is none."""
    ready = [f"`{word}`" for word in words] or ["nothing"]
    return ready[0] if len(ready) == 1 else f"{', '.join(ready[:-1])} {last} {ready[-1]}"


def one_of(words: Iterable[str]) -> str:
    """What to choose from: `` one of `%` or `1` ``, and where there is no choice, `` `1` ``."""
    choices = list(words)
    return listed(choices) if len(choices) == 1 else f"one of {listed(choices)}"


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """`` Did you mean `TB-130`? `` with a space before it; nothing where no known word is near, or many flaws came before."""
    if next(_guesses.get(), _WITHOUT_END) is _WITHOUT_END:
        return ""
    looked_at = word[:MOST_COMPARED].casefold()
    # Comparing with every word in full would take minutes for a document of a thousand long wrong names.
    likeliest = nlargest(LIKELIEST, known, key=lambda each: _likeness(looked_at, each[:MOST_COMPARED].casefold()))
    # Small and capital letters are alike here; of two words that differ in these alone the likelier stands first.
    by_folded = {each.casefold(): each for each in reversed(likeliest)}
    near = [by_folded[each] for each in get_close_matches(looked_at, list(by_folded), n=3, cutoff=0.6)]
    return f" Did you mean {listed(near)}?" if near else ""


def _likeness(one: str, other: str) -> float:
    """The share of pairs of neighbouring letters that two words have in common."""
    pairs, others = _pairs(one), _pairs(other)
    return len(pairs & others) / (len(pairs) + len(others))


@lru_cache(maxsize=4096)
def _pairs(word: str) -> frozenset[str]:
    """Its pairs of neighbouring letters, its ends with a space beside them; never none."""
    return frozenset(map("".join, pairwise(f" {word} ")))


def counted(number: int, what: str) -> str:
    """`1 reading`, `3 readings`."""
    return f"{number} {what}{'' if number == 1 else 's'}"
