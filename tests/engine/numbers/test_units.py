"""Units are looked up by symbol, UCUM code and Rec 20 code, never parsed."""

import pytest

from service.engine.characteristics import conversions_to, symbols_for
from service.engine.documents import Quantity
from service.engine.numbers import COUNTED, TABLE, UNITS, find_unit, unit_flaw, units_of, with_unit
from service.engine.numbers.units import distance_in

BY_CODE: list[tuple[str, Quantity, str]] = [
    ("N", "force", "N"),
    ("NEW", "force", "N"),
    ("C78", "force", "lbf"),
    ("[lbf_av]", "force", "lbf"),
    ("B37", "force", "kgf"),
    ("Mgf", "force", "tf"),
    ("KGM", "mass", "kg"),
    ("[lb_av]", "mass", "lb"),
    ("LBR", "mass", "lb"),
    ("MTR", "length", "m"),
    ("[ft_i]", "length", "ft"),
    ("FOT", "length", "ft"),
    ("D34", "mass_per_length", "tex"),
    ("[den]", "mass_per_length", "den"),
    ("A49", "mass_per_length", "den"),
    ("M83", "mass_per_length", "den"),
    ("{turn}/m", "turns_per_length", "turn/m"),
    ("P1", "ratio", "%"),
    ("C62", "ratio", "1"),
    ("SEC", "time", "s"),
]


@pytest.mark.parametrize(("word", "quantity", "symbol"), BY_CODE)
def test_a_unit_is_found_by_its_symbol_and_its_codes(word: str, quantity: Quantity, symbol: str) -> None:
    """A station writes `lbf`, a laboratory system the UCUM code, an ERP the one of Rec 20."""
    unit = find_unit(word, quantity)

    assert unit is not None
    assert (symbol, quantity) == (unit.symbol, unit.quantity)


SYMBOLS: list[tuple[Quantity, str]] = [
    ("force", "N mN cN daN kN gf kgf tf ozf lbf"),
    ("mass", "mg g kg t oz lb"),
    ("length", "mm cm m km in ft yd"),
    ("length_per_mass", "m/kg km/kg m/g ft/lb yd/lb"),
    ("mass_per_length", "tex dtex ktex den g/m kg/m kg/km lb/ft lb/100ft kg/220m"),
    ("turns_per_length", "turn/m turn/cm turn/in turn/ft"),
    ("force_per_mass_per_length", "N/tex cN/tex mN/tex gf/den"),
    ("ratio", "% 1"),
    ("count", "1"),
    ("time", "s min h d"),
    ("category", ""),
]


@pytest.mark.parametrize(("quantity", "symbols"), SYMBOLS)
def test_every_unit_of_the_trade_is_in_the_table(quantity: Quantity, symbols: str) -> None:
    """What stands on slips and in buyers' documents, and nothing besides."""
    assert set(symbols.split()) == {unit.symbol for unit in units_of(quantity)}


@pytest.mark.parametrize("word", ["", "newton", "n", "N ", "kg*m/s2", "1/0", "N" * 1000, "Nm", "LBF", "lbs", "µN"])
def test_a_word_that_is_no_unit_is_none(word: str) -> None:
    """Nothing is guessed from it: case, spaces and arithmetic are not understood."""
    assert find_unit(word, "force") is None


def test_no_word_names_two_units() -> None:
    """A word that meant two things would be taken for the wrong one some day."""
    assert sum(len(set(unit.words)) for unit in TABLE) == len(UNITS)


def test_one_names_a_count_where_a_count_is_meant() -> None:
    """Strands are counted in ones, a share is one of one."""
    assert COUNTED == find_unit("1", "count")
    assert "ratio" == getattr(find_unit("1", "ratio"), "quantity", None)
    assert "force" == getattr(find_unit("N", "count"), "quantity", None)


def test_readings_come_in_the_reciprocal_quantity_too() -> None:
    """Runnage is measured as linear density where a wrap reel and a balance stand; both are offered."""
    runnage = find_unit("m/kg", "length_per_mass")
    assert runnage is not None
    conversions = conversions_to(runnage)

    assert conversions["tex"].turned_round
    assert not conversions["ft/lb"].turned_round
    assert "N" not in conversions
    assert ["m/kg", "km/kg", "m/g", "ft/lb", "yd/lb", "tex"] == symbols_for("length_per_mass")[:6]
    assert ["N"] == symbols_for("force")[:1]


@pytest.mark.parametrize(
    ("word", "meant"), [("lb", "lbf"), ("LBR", "lbf"), ("kg", "kgf"), ("g", "gf"), ("oz", "ozf"), ("t", "tf")]
)
def test_a_mass_for_a_force_is_told_what_was_meant(word: str, meant: str) -> None:
    """The slip says pounds and means the force; it is told so, never taken for it."""
    flaw = unit_flaw(word, "breaking_force", "force", [unit.symbol for unit in units_of("force")], "/unit")

    assert "unit-of-other-quantity" == flaw.code
    assert f"Write `{meant}` if that is meant, or send the force in `N`," in flaw.text


def test_a_length_for_a_force_is_not_taken_for_a_slip() -> None:
    """Nobody means a force by metres."""
    flaw = unit_flaw("m", "breaking_force", "force", ["N", "lbf"], "/unit")

    assert "`m` is a unit of length and `breaking_force` is a force. Write one of `N` or `lbf`." == flaw.text


def test_a_figure_is_shown_with_its_unit() -> None:
    """A plain ratio has none to show, and percentages lie percentage points apart."""
    assert ("5 N", "0.5", "5 %") == (with_unit("5", "N"), with_unit("0.5", "1"), with_unit("5", "%"))
    assert ("5 N", "0.5", "5 percentage points") == (distance_in("5", "N"), distance_in("0.5", "1"), distance_in("5", "%"))
