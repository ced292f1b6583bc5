"""Whoever writes the trade's word for a name is answered with ours."""

import pytest
from msgspec import Struct

from service.api.strict.shapes import check_shape
from service.engine.characteristics import Limits
from service.engine.documents import VOCABULARY, Lot, did_you_mean
from service.engine.documents.synonyms import SYNONYMS, ours_for
from service.engine.sampling.plans import Percent
from tests.support.grades import lot, series
from tests.support.judging import flaws_in, flaws_of

DOCUMENTS: list[type[Struct]] = [Limits, Lot, Percent]
"""Documents with fields that the trade calls by another word."""
FIELDS = {field: document for document in DOCUMENTS for field in document.__struct_encode_fields__}
CHARACTERISTICS = [(word, name) for word, synonym in SYNONYMS.items() for name in synonym.names if name in VOCABULARY]
MEMBERS = [
    (word, document, name)
    for word, synonym in SYNONYMS.items()
    for document in DOCUMENTS
    for name in synonym.names
    if name in document.__struct_encode_fields__
]
UNITS = {"force": "N", "mass": "kg", "length": "m", "length_per_mass": "m/kg", "force_per_mass_per_length": "cN/tex"}


def test_every_name_of_the_table_is_one_of_ours() -> None:
    """An answer with a name that does not exist sends its reader astray."""
    assert [] == [name for each in SYNONYMS.values() for name in each.names if name not in VOCABULARY and name not in FIELDS]
    assert [] == [word for word, each in SYNONYMS.items() if word in VOCABULARY or not each.reason.endswith(".")]


@pytest.mark.parametrize("word", SYNONYMS)
def test_every_word_of_the_table_is_answered(word: str) -> None:
    """With capitals, underscores or hyphens it is the same word."""
    names = SYNONYMS[word].names

    for written in (word, word.upper(), word.replace(" ", "_"), word.replace(" ", "-")):
        assert list(names) == ours_for(written, names)
        assert did_you_mean(written, names).startswith(" Here it is called `")


@pytest.mark.parametrize(("word", "name"), CHARACTERISTICS)
def test_the_trades_word_for_a_characteristic_is_answered_with_ours(word: str, name: str) -> None:
    """A station that sends `tensile` reads what the grade calls it, and so does who writes the grade."""
    written, unit = word.replace(" ", "_"), UNITS[VOCABULARY[name].quantity]
    specification = {
        "characteristics": [{"name": name, "unit": unit}],
        "requirements": [{"id": "r", "kind": "mean", "of": name, "limits": {"lower": 1}}],
    }
    in_evidence = flaws_in(specification, lot(series(5, of={"name": written, "unit": unit})))
    in_grade = flaws_of(specification | {"characteristics": [{"name": written, "unit": unit}]})

    assert [f"The grade has no characteristic `{written}`. Here it is called `{name}`."] == [each.text for each in in_evidence]
    assert in_grade[0].text.startswith(f"`{written}` is not in the vocabulary. Here it is called `")
    assert f"`{name}`" in in_grade[0].text


@pytest.mark.parametrize(("word", "document", "name"), MEMBERS)
def test_the_trades_word_for_a_field_is_answered_with_ours(word: str, document: type[Struct], name: str) -> None:
    """A grade with `min` reads that the field is `lower`, not only that there is no `min`."""
    texts = [flaw.text for flaw in check_shape({word: 5}, document) if flaw.code == "unknown-field"]

    assert [f"There is no field `{word}` here. Here it is called `{name}`."] == texts


@pytest.mark.parametrize("word", ["strand", "weigh", "", "minn"])
def test_a_word_that_the_table_lacks_has_no_name(word: str) -> None:
    """What is only alike is left to the likeness of letters."""
    assert [] == ours_for(word, VOCABULARY)
