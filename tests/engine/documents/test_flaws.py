"""What a flaw is made of, and the small words that flaws are said with."""

import json

import msgspec
import pytest

from service.engine.documents import (
    MOST_FOUND,
    Flaw,
    FlawedDocumentError,
    counted,
    did_you_mean,
    gathered,
    is_in_range,
    listed,
    one_of,
    quoted,
    written,
)
from service.engine.documents.flaws import MOST_GUESSED


def test_a_flaw_moves_with_the_document_it_stands_in() -> None:
    """Evidence in a request stands below `/evidence`; the rule stays in the grade."""
    assert Flaw("c", "t", "/evidence/series/0", "/requirements/1") == Flaw("c", "t", "/series/0", "/requirements/1").below(
        "/evidence"
    )


def test_a_flaw_without_a_rule_says_none() -> None:
    """Absent means absent."""
    assert {"code": "c", "text": "t", "at": ""} == json.loads(msgspec.json.encode(Flaw("c", "t", "")))


def test_a_refusal_carries_every_flaw() -> None:
    """And shows the first few where it is printed."""
    flaws = [Flaw("c", f"Text {number}.", f"/{number}") for number in range(7)]
    refusal = FlawedDocumentError(flaws)

    assert tuple(flaws) == refusal.flaws
    assert "/0: Text 0.; /1: Text 1.; /2: Text 2.; /3: Text 3.; /4: Text 4." == str(refusal)


@pytest.mark.parametrize(
    ("text", "shown"), [("lb", "`lb`"), ("a" * 40, f"`{'a' * 40}`"), ("a" * 41, f"`{'a' * 39}…`"), (5, "`5`"), ("", "``")]
)
def test_what_the_caller_wrote_is_cut_at_40_characters(text: object, shown: str) -> None:
    """A megabyte of nonsense is not sent back."""
    assert shown == quoted(text)


def test_words_are_listed_as_people_do() -> None:
    """One, two and three of them."""
    assert ("`N`", "`N` or `kN`", "`N`, `kN` and `lbf`") == (
        listed(["N"]),
        listed(["N", "kN"]),
        listed(["N", "kN", "lbf"], "and"),
    )
    assert ("`1`", "one of `%` or `1`") == (one_of(["1"]), one_of(["%", "1"]))


def test_near_words_are_offered_and_far_ones_are_not() -> None:
    """A slip of the finger is mended at a glance; a guess out of the blue would mislead."""
    assert " Did you mean `TB-130`?" == did_you_mean("TB-13", ["TB-130", "XX"])
    assert "" == did_you_mean("zzz", ["TB-130"])
    assert "" == did_you_mean("zzz", [])


def test_a_near_word_is_found_among_many() -> None:
    """A mill with a thousand grades is helped as one with three is."""
    known = [f"TB-{number}" for number in range(1000, 2000)]

    assert did_you_mean("TB1234", known).startswith(" Did you mean `TB-1234`")


def test_numbers_of_things_are_said_with_their_plural() -> None:
    """1 reading, 2 readings, 0 readings."""
    assert ["1 reading", "2 readings", "0 readings"] == [counted(number, "reading") for number in (1, 2, 0)]


@pytest.mark.parametrize(
    ("number", "taken"),
    [
        (0.0, True),
        (-0.0, True),
        (1e-9, True),
        (9.99e-10, False),
        (1e12, True),
        (1000000000000.0001, False),
        (-1e12, True),
        (float("nan"), False),
        (float("inf"), False),
    ],
)
def test_numbers_are_taken_from_a_billionth_to_a_million_million(number: float, taken: bool) -> None:  # noqa: FBT001  a column of the table
    """Both ends are taken, the next numeral beyond is not, and what is no number never is."""
    assert taken == is_in_range(number)


@pytest.mark.parametrize(("number", "text"), [(-1.0, "-1"), (0.5, "0.5"), (1e12, "1000000000000"), (1e-10, "1e-10")])
def test_a_number_is_shown_as_it_is_written(number: float, text: str) -> None:
    """Without a decimal that nobody wrote."""
    assert text == written(number)


def guessed(number: int) -> list[str]:
    """What is said of so many misspelt names that are gathered together, and of those that another gathers for each."""
    return [flaw.text for flaw in gathered(Flaw("c", did_you_mean("TB-13", ["TB-130"]), "") for _ in range(number))]


def test_the_search_for_flaws_ends() -> None:
    """A document with a thousand flaws has enough to mend, and the rest of it is not looked through."""
    found = iter(Flaw("c", "t", f"/{number}") for number in range(5 * MOST_FOUND))

    assert [f"/{number}" for number in range(1000)] == [flaw.at for flaw in gathered(found)]
    assert "/1000" == next(found).at


def test_words_are_guessed_for_the_first_flaws_alone() -> None:
    """A guess costs many times what finding a flaw does; whoever gathers next has his own."""
    told = guessed(MOST_GUESSED + 2)

    assert [" Did you mean `TB-130`?"] * 20 == told[:20]
    assert ["", ""] == told[20:]
    assert told == guessed(MOST_GUESSED + 2)


def test_rows_of_one_body_share_the_guesses() -> None:
    """Each of a hundred thousand rows is looked over by itself, and their flaws are told together."""
    rows = ([Flaw("c", text, "") for text in guessed(3)] for _ in range(10))
    told = gathered(flaw for row in rows for flaw in row)

    assert MOST_GUESSED == sum(bool(flaw.text) for flaw in told)
