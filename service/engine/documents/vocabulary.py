"""The vocabulary of characteristics: the trade's names, the quantity that each of them is, and its meaning."""

from collections.abc import Mapping
from typing import Literal

from msgspec import Struct

Quantity = Literal[
    "force",
    "mass",
    "length",
    "length_per_mass",
    "mass_per_length",
    "turns_per_length",
    "force_per_mass_per_length",
    "ratio",
    "count",
    "time",
    "category",
]
"""The kind of quantity. `count` is of whole numbers; `category` is declared and never measured."""


_WORDS: Mapping[Quantity, str] = {
    "length_per_mass": "length per mass",
    "mass_per_length": "mass per length",
    "turns_per_length": "number of turns per length",
    "force_per_mass_per_length": "tenacity",
}


def in_words(quantity: Quantity) -> str:
    """The quantity as a noun in a sentence, without article: `length per mass`."""
    return _WORDS.get(quantity, quantity)


class Term(Struct, frozen=True):
    """A name of the vocabulary with its quantity and meaning."""

    name: str
    quantity: Quantity
    meaning: str


TERMS = (
    Term("runnage", "length_per_mass", "Length of twine or yarn in a unit of mass."),
    Term("linear_density", "mass_per_length", "Mass of a unit of length; the reciprocal of runnage."),
    Term("breaking_force", "force", "Greatest force on a straight specimen in a test to break. It is not a working load."),
    Term("knot_breaking_force", "force", "Greatest force on a knotted specimen in a test to break. It is not a working load."),
    Term("tenacity", "force_per_mass_per_length", "Breaking force divided by linear density."),
    Term("elongation_at_break", "ratio", "Increase in length at the break, of the length at the start."),
    Term("twist", "turns_per_length", "Turns about the axis of a twine or yarn in a unit of length."),
    Term("twist_direction", "category", "Z or S, of a twine or yarn."),
    Term("lay_length", "length", "Length of one turn of a strand about the axis of a rope."),
    Term("lay_direction", "category", "Z or S, of a rope or strand."),
    Term("diameter", "length", "Diameter of the cordage itself."),
    Term("circumference", "length", "Circumference of the cordage itself; never calculated from a diameter."),
    Term("net_mass", "mass", "Mass of the contents of a package."),
    Term("gross_mass", "mass", "Mass of a package with what it is packed in."),
    Term("tare_mass", "mass", "Mass of what a package is packed in."),
    Term("commercial_mass", "mass", "Dry mass of the contents with the regain that is agreed on."),
    Term("length", "length", "Length of the contents of a package."),
    Term("specimen_length", "length", "Length of the piece that is tested."),
    Term("specimen_mass", "mass", "Mass of the piece that is tested."),
    Term("moisture_content", "ratio", "Mass of water, of the mass as it is."),
    Term("moisture_regain", "ratio", "Mass of water, of the oven-dry mass."),
    Term("oil_on_dry_mass", "ratio", "Mass of oil or other finish, of the dry mass."),
    Term("oil_as_received", "ratio", "Mass of oil or other finish, of the mass as received."),
    Term("knot_efficiency", "ratio", "Knot breaking force, of the breaking force."),
    Term("unevenness", "ratio", "Coefficient of variation of mass along the length."),
    Term("strands", "count", "Strands in a rope, or plies in a twine."),
    Term("yarns_per_strand", "count", "Yarns in a strand."),
    Term("fibre", "category", "What it is made of: sisal, henequen, polypropylene."),
    Term("treatment", "category", "What it was treated with, against rot or vermin."),
    Term("marker_yarn", "category", "Colour of the yarn that tells the maker and the standard."),
    Term("colour", "category", "Colour of the cordage."),
    Term("package_diameter", "length", "Diameter of the ball, coil, tube or bobbin."),
    Term("package_height", "length", "Height of the ball, coil, tube or bobbin."),
)
VOCABULARY: Mapping[str, Term] = {term.name: term for term in TERMS}
