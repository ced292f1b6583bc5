"""The names that characteristics have in the trade, and the quantity of each."""

import re
from typing import get_args

import pytest

from service.engine.documents import TERMS, VOCABULARY, Quantity, in_words

QUANTITIES: list[tuple[Quantity, str]] = [
    ("force", "breaking_force knot_breaking_force"),
    ("length_per_mass", "runnage"),
    ("mass_per_length", "linear_density"),
    ("force_per_mass_per_length", "tenacity"),
    ("turns_per_length", "twist"),
    ("length", "lay_length diameter circumference length specimen_length package_diameter package_height"),
    ("mass", "net_mass gross_mass specimen_mass"),
    (
        "ratio",
        "elongation_at_break moisture_content moisture_regain oil_on_dry_mass oil_as_received knot_efficiency unevenness",
    ),
    ("count", "strands yarns_per_strand"),
    ("category", "twist_direction lay_direction fibre treatment"),
]


@pytest.mark.parametrize(("quantity", "names"), QUANTITIES)
def test_a_name_of_the_trade_has_its_quantity(quantity: Quantity, names: str) -> None:
    """A grade need not say that a breaking force is a force, and cannot say that it is a mass."""
    assert dict.fromkeys(names.split(), quantity) == {name: VOCABULARY[name].quantity for name in names.split()}


def test_every_name_fits_a_document_and_is_explained() -> None:
    """A reader of the list learns what is meant, in a sentence."""
    assert len(TERMS) == len(VOCABULARY)
    for term in TERMS:
        assert re.fullmatch(r"[a-z][a-z0-9_]{0,62}", term.name)
        assert term.meaning[0].isupper()
        assert term.meaning.endswith(".")


def test_a_breaking_force_is_never_called_a_working_load() -> None:
    """Whoever reads the figure is told so where the word is explained."""
    for name in ("breaking_force", "knot_breaking_force"):
        assert "It is not a working load." in VOCABULARY[name].meaning


def test_every_quantity_reads_as_words() -> None:
    """Sentences say "a length per mass", not the member of a document."""
    assert [] == [quantity for quantity in get_args(Quantity) if "_" in in_words(quantity)]
