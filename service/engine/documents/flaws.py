"""Flaws, each one thing to correct in a document, and how their sentences quote and list what they name."""

from collections.abc import Collection, Iterable, Iterator, Sequence
from contextvars import ContextVar
from difflib import get_close_matches
from functools import lru_cache
from heapq import nlargest
from itertools import islice, pairwise, repeat

from msgspec import Struct

from service.engine.documents.synonyms import ours_for

QUOTED_AT_MOST = 40
# The bounds below hold the time of a refusal: a thousand wrong names of 60 letters against 200 known ones took 72 s without.
MOST_COMPARED = 40
"""Characters of a word that are compared with those of known words."""
LIKELIEST = 6
"""Known words that are compared in full."""
MOST_FOUND = 1000
"""Flaws after which the search ends; a document with more has enough to correct."""
MOST_GUESSED = 20
"""Flaws of one search that suggest the known word that may be meant."""
_WITHOUT_END: Iterator[None] = repeat(None)
# A context variable, since documents are also read in threads beside the event loop.
_guesses: ContextVar[Iterator[None]] = ContextVar("_guesses", default=_WITHOUT_END)
"""An iterator with one item for each suggestion that is left to the search that runs in this context."""


class Flaw(Struct, frozen=True, omit_defaults=True):
    """One thing to correct, with JSON Pointers into the request and, where a rule is concerned, into the grade."""

    code: str
    """Stable, in kebab-case, never reused with another meaning: `unit-of-other-quantity`."""
    text: str
    """What is wrong and what to do about it, for a person."""
    at: str
    """JSON Pointer into the document, `""` for the whole; of a missing field, to where it should be."""
    rule: str = ""
    """JSON Pointer into the grade, to the rule concerned."""

    def below(self, prefix: str) -> "Flaw":
        """The same flaw, for a document that is the member at the pointer `prefix` of a larger one."""
        return Flaw(self.code, self.text, prefix + self.at, self.rule)


class FlawedDocumentError(ValueError):
    """Raised for a document with flaws; `flaws` has them in the order of the document."""

    def __init__(self, flaws: Sequence[Flaw]) -> None:
        """Take the flaws, at least one."""
        # The message shows five, for a log or a traceback; a caller of the service receives all of `flaws`.
        super().__init__("; ".join(f"{flaw.at}: {flaw.text}" for flaw in flaws[:5]))
        self.flaws = tuple(flaws)


def gathered(flaws: Iterable[Flaw]) -> list[Flaw]:
    """The first 1,000 flaws in their order, of which the first 20 with an unknown word suggest a known one.

    A search within another one, as for one row of many, shares its suggestions.
    """
    # A suggestion takes ten times as long as finding the flaw or more, so it is the suggestions that are rationed.
    if _guesses.get() is not _WITHOUT_END:
        return list(islice(flaws, MOST_FOUND))
    token = _guesses.set(repeat(None, MOST_GUESSED))
    try:
        return list(islice(flaws, MOST_FOUND))
    finally:
        _guesses.reset(token)


def quoted(text: object) -> str:
    """The caller's own text in backticks, cut to 40 characters."""
    return f"`{cut(str(text))}`"


def cut(text: str) -> str:
    """The text, or its first 39 characters and `…` where it has more than 40."""
    return text if len(text) <= QUOTED_AT_MOST else text[: QUOTED_AT_MOST - 1] + "…"


def listed(words: Iterable[str], last: str = "or") -> str:
    """The words in backticks as a list in a sentence: `` `N`, `kN` or `lbf` ``; `nothing` for no words."""
    ready = [f"`{word}`" for word in words] or ["nothing"]
    return ready[0] if len(ready) == 1 else f"{', '.join(ready[:-1])} {last} {ready[-1]}"


def one_of(words: Iterable[str]) -> str:
    """The choices in a sentence: `` one of `%` or `1` ``; of a single one, `` `1` ``."""
    choices = list(words)
    return listed(choices) if len(choices) == 1 else f"one of {listed(choices)}"


def did_you_mean(word: str, known: Collection[str]) -> str:
    """`` Did you mean `TB-130`? `` after a space; `` Here it is called `lower`. `` for a word of the trade.

    Empty where no known word is near, or the search has no suggestions left.
    """
    if ours := ours_for(word, known):
        return f" Here it is called {listed(ours)}."
    if next(_guesses.get(), _WITHOUT_END) is _WITHOUT_END:
        return ""
    folded = word[:MOST_COMPARED].casefold()
    # difflib compares in full, in quadratic time; the share of common letter pairs picks the few words worth that.
    likeliest = nlargest(LIKELIEST, known, key=lambda candidate: _likeness(folded, candidate[:MOST_COMPARED].casefold()))
    # Case is ignored; of two words that differ in case alone the likelier one wins, as the last one written to the dict.
    by_folded = {candidate.casefold(): candidate for candidate in reversed(likeliest)}
    near = [by_folded[match] for match in get_close_matches(folded, list(by_folded), n=3, cutoff=0.6)]
    return f" Did you mean {listed(near)}?" if near else ""


def _likeness(one: str, other: str) -> float:
    """How alike two words are, 0 to 1/2: common pairs of neighbouring letters, divided by the pairs of both words."""
    pairs, others = _pairs(one), _pairs(other)
    return len(pairs & others) / (len(pairs) + len(others))


# Cached, since each flaw of a document compares with the same known words.
@lru_cache(maxsize=4096)
def _pairs(word: str) -> frozenset[str]:
    """The pairs of neighbouring letters of a word between two spaces, so that at least one pair exists."""
    return frozenset(map("".join, pairwise(f" {word} ")))


def neither_or_both(one: str, other: str, *, is_both: bool) -> str:
    """The sentences of a flaw where exactly one of two members has to be given."""
    if is_both:
        return f"Both `{one}` and `{other}` are given. Remove one of the two."
    return f"Neither `{one}` nor `{other}` is given. Give one of the two."


def capitalised(words: str) -> str:
    """The words as a sentence begins with them: `Twist direction`."""
    return words[:1].upper() + words[1:]


def counted(number: int, what: str) -> str:
    """A number with its noun in the singular or plural: `1 reading`, `3 readings`."""
    return f"{number} {what}{'' if number == 1 else 's'}"
