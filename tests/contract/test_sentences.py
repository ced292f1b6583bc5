"""The page of sentences has one for each place in the source that says something."""

import re
from collections import Counter

from tests.contract.sentences import Place, fits, on_page, places

PAGE = on_page()


def test_every_sentence_of_the_source_is_on_the_page() -> None:
    """Who edits sentences reads them in a row, and misses one that is not there. Write the page anew by its command."""
    unfit = [place for place in places() if not any(fits(place, said) for said in PAGE)]
    missing = [f"{place.module}:{place.line} {place.code} {place.words}" for place in unfit]

    assert [] == missing


def test_there_are_hundreds_of_places() -> None:
    """The test above must have something to do."""
    found = list(places())

    assert 450 < len(found)
    assert 60 > sum(place.words == ".*" for place in found)


def test_no_sentence_has_what_nobody_can_read() -> None:
    """It is read aloud at a station: no Python, no doubled space or stop; it begins with a capital, a name or what was sent."""
    unreadable = re.compile(r"  |\.\.(?!\.)|\bNone\b(?! of)|<class|[{}]|Error\b")

    assert [] == [said for said in PAGE if unreadable.search(re.sub(r"`[^`]*`", "``", said.text))]
    assert [] == [said for said in PAGE if not re.match(r"[A-Z0-9`'\"(/…-]|[a-z]+_|[a-z-]+\d*:", said.text)]


def test_a_place_is_known_by_its_words() -> None:
    """The comparison itself can fail."""
    flaw = next(place for place in places() if place.code == "limits\\-without\\-sides")

    assert isinstance(flaw, Place)
    assert Counter(fits(flaw, said) for said in PAGE)[True] >= 1
    assert not fits(flaw, next(said for said in PAGE if said.code == "unknown-field"))
