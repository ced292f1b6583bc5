"""Words that the trade uses for what has another name here, so that whoever writes one is answered with ours."""

from collections.abc import Collection, Mapping
from typing import NamedTuple


class Synonym(NamedTuple):
    """What a word of the trade is called here."""

    names: tuple[str, ...]
    reason: str
    """Why the trade's word is not the name itself."""


SYNONYMS: Mapping[str, Synonym] = {
    "tensile": Synonym(("breaking_force",), "A test to break measures a force; `tensile` names the test."),
    "tensile strength": Synonym(
        ("breaking_force", "tenacity"), "Of cordage it is the force; per linear density it is the tenacity."
    ),
    "strength": Synonym(("breaking_force",), "A working load is a strength too, and is never meant here."),
    "breaking strength": Synonym(("breaking_force",), "It is stated in units of force."),
    "breaking load": Synonym(("breaking_force",), "A load is easily taken for a working load."),
    "knot strength": Synonym(("knot_breaking_force",), "It is stated in units of force."),
    "footage": Synonym(("length", "runnage"), "Feet of a ball are a length, feet of a pound are a runnage."),
    "yardage": Synonym(("length", "runnage"), "Yards of a ball are a length, yards of a pound are a runnage."),
    "weight": Synonym(("net_mass", "gross_mass", "mass"), "It may be with or without the packing; units of mass are compared."),
    "net weight": Synonym(("net_mass",), "Units of mass are compared."),
    "gross weight": Synonym(("gross_mass",), "Units of mass are compared."),
    "tare": Synonym(("tare_mass",), "The mass of the packing, in units of mass."),
    "min": Synonym(("lower", "at_least"), "A limit names the side that it bounds; `above` is the one that excludes its value."),
    "max": Synonym(("upper", "at_most"), "A limit names the side that it bounds; `below` is the one that excludes its value."),
    "minimum": Synonym(("lower", "at_least"), "It is `min` in full."),
    "maximum": Synonym(("upper", "at_most"), "It is `max` in full."),
}
"""By the trade's word in small letters, with spaces. The words are common practice, no source."""


def ours_for(word: str, known: Collection[str]) -> list[str]:
    """Those of the known names that the trade's word stands for; none where it is no word of the table."""
    found = SYNONYMS.get(word.casefold().replace("_", " ").replace("-", " ").strip())
    return [name for name in found.names if name in known] if found else []
