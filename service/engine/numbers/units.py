"""The closed table of units. A caller's word is looked up, never parsed; the factors are those of the library pint."""

from collections.abc import Mapping
from fractions import Fraction
from functools import cache
from importlib.resources import files
from typing import Any

from msgspec import Struct

from service.engine.documents import Quantity

DEFINITIONS = "units.txt"
"""File beside this module with the units that pint lacks, in pint's own language of definitions."""


class Unit(Struct, frozen=True):
    """A unit: its symbol, quantity and name, its name in pint, and its codes in UCUM and UN/CEFACT Rec 20 where they exist."""

    symbol: str
    quantity: Quantity
    pint_name: str
    """An expression for pint, never a caller's word."""
    name: str
    ucum: str = ""
    rec20: tuple[str, ...] = ()

    @property
    def factor(self) -> Fraction:
        """The unit in SI base units of its quantity, exactly: 8896443230521/(2·10^12) for the pound-force in N."""
        return _factor(self.pint_name)

    @property
    def words(self) -> tuple[str, ...]:
        """All words by which a caller may name it: its symbol and its codes."""
        return (self.symbol, *((self.ucum,) if self.ucum and self.ucum != self.symbol else ()), *self.rec20)


# Rec 20 marks kgf's B37 deprecated, has two codes for the denier, and none for daN, ktex, runnage or twist.
TABLE = (
    Unit("N", "force", "newton", "newton", "N", ("NEW",)),
    Unit("mN", "force", "millinewton", "millinewton", "mN", ("C29",)),
    Unit("cN", "force", "centinewton", "centinewton", "cN"),
    Unit("daN", "force", "decanewton", "decanewton", "daN"),
    Unit("kN", "force", "kilonewton", "kilonewton", "kN", ("B47",)),
    Unit("gf", "force", "force_gram", "gram-force", "gf"),
    Unit("kgf", "force", "force_kilogram", "kilogram-force", "kgf", ("B37",)),
    Unit("tf", "force", "force_metric_ton", "tonne-force", "Mgf"),
    Unit("ozf", "force", "force_ounce", "ounce-force", "[lbf_av]/16", ("L40",)),
    Unit("lbf", "force", "force_pound", "pound-force", "[lbf_av]", ("C78",)),
    Unit("mg", "mass", "milligram", "milligram", "mg", ("MGM",)),
    Unit("g", "mass", "gram", "gram", "g", ("GRM",)),
    Unit("kg", "mass", "kilogram", "kilogram", "kg", ("KGM",)),
    Unit("t", "mass", "metric_ton", "tonne", "t", ("TNE",)),
    Unit("oz", "mass", "ounce", "ounce", "[oz_av]", ("ONZ",)),
    Unit("lb", "mass", "pound", "pound", "[lb_av]", ("LBR",)),
    Unit("mm", "length", "millimeter", "millimetre", "mm", ("MMT",)),
    Unit("cm", "length", "centimeter", "centimetre", "cm", ("CMT",)),
    Unit("m", "length", "meter", "metre", "m", ("MTR",)),
    Unit("km", "length", "kilometer", "kilometre", "km", ("KMT",)),
    Unit("in", "length", "inch", "inch", "[in_i]", ("INH",)),
    Unit("ft", "length", "foot", "foot", "[ft_i]", ("FOT",)),
    Unit("yd", "length", "yard", "yard", "[yd_i]", ("YRD",)),
    Unit("m/kg", "length_per_mass", "meter / kilogram", "metre per kilogram", "m/kg"),
    Unit("km/kg", "length_per_mass", "kilometer / kilogram", "kilometre per kilogram", "km/kg"),
    Unit("m/g", "length_per_mass", "meter / gram", "metre per gram", "m/g"),
    Unit("ft/lb", "length_per_mass", "foot / pound", "foot per pound", "[ft_i]/[lb_av]"),
    Unit("yd/lb", "length_per_mass", "yard / pound", "yard per pound", "[yd_i]/[lb_av]"),
    Unit("tex", "mass_per_length", "tex", "tex", "tex", ("D34",)),
    Unit("dtex", "mass_per_length", "decitex", "decitex", "dtex", ("A47",)),
    Unit("ktex", "mass_per_length", "kilotex", "kilotex", "ktex"),
    Unit("den", "mass_per_length", "denier", "denier", "[den]", ("A49", "M83")),
    Unit("g/m", "mass_per_length", "gram / meter", "gram per metre", "g/m", ("GF",)),
    Unit("kg/m", "mass_per_length", "kilogram / meter", "kilogram per metre", "kg/m", ("KL",)),
    Unit("kg/km", "mass_per_length", "kilogram / kilometer", "kilogram per kilometre", "kg/km", ("M31",)),
    Unit("lb/ft", "mass_per_length", "pound / foot", "pound per foot", "[lb_av]/[ft_i]", ("P2",)),
    Unit("lb/100ft", "mass_per_length", "pound / hundred_feet", "pound per hundred feet", "[lb_av]/(100.[ft_i])"),
    Unit("kg/220m", "mass_per_length", "kilogram / coil_of_220_metres", "kilogram per coil of 220 metres", "kg/(220.m)"),
    Unit("turn/m", "turns_per_length", "yarn_turn / meter", "turn per metre", "{turn}/m"),
    Unit("turn/cm", "turns_per_length", "yarn_turn / centimeter", "turn per centimetre", "{turn}/cm"),
    Unit("turn/in", "turns_per_length", "yarn_turn / inch", "turn per inch", "{turn}/[in_i]"),
    Unit("turn/ft", "turns_per_length", "yarn_turn / foot", "turn per foot", "{turn}/[ft_i]"),
    Unit("N/tex", "force_per_mass_per_length", "newton / tex", "newton per tex", "N/tex"),
    Unit("cN/tex", "force_per_mass_per_length", "centinewton / tex", "centinewton per tex", "cN/tex"),
    Unit("mN/tex", "force_per_mass_per_length", "millinewton / tex", "millinewton per tex", "mN/tex"),
    Unit("gf/den", "force_per_mass_per_length", "force_gram / denier", "gram-force per denier", "gf/[den]"),
    Unit("%", "ratio", "percent", "percent", "%", ("P1",)),
    Unit("1", "ratio", "dimensionless", "one", "1", ("C62",)),
    Unit("s", "time", "second", "second", "s", ("SEC",)),
    Unit("min", "time", "minute", "minute", "min", ("MIN",)),
    Unit("h", "time", "hour", "hour", "h", ("HUR",)),
    Unit("d", "time", "day", "day", "d", ("DAY",)),
)
COUNTED = Unit("1", "count", "dimensionless", "one", "1", ("C62",))
"""The only unit of counts; `1` names it for a count, and the plain ratio otherwise."""

UNITS: Mapping[str, Unit] = {word: unit for unit in TABLE for word in unit.words}

RECIPROCAL: Mapping[Quantity, Quantity] = {"length_per_mass": "mass_per_length", "mass_per_length": "length_per_mass"}
"""Pairs of reciprocal quantities; readings in a unit of the other one are inverted one by one."""

POINTS = "percentage points"
"""The unit of a distance between two percentages."""

MEANT_AS_FORCE: Mapping[str, str] = {"lb": "lbf", "kg": "kgf", "g": "gf", "oz": "ozf", "t": "tf"}
"""Units of mass that are often written for a force, with the unit of force that is probably meant."""


@cache
def _factor(pint_name: str) -> Fraction:
    return Fraction(_registry().Quantity(Fraction(1), pint_name).to_base_units().magnitude)


@cache
def _registry() -> Any:  # pint builds the class of its quantities at run time, so it has no static type
    """Pint's table of units with Fractions as factors, loaded when the first factor is needed."""
    # Importing pint takes as long as all else at the start together, and commands without units don't need it.
    import pint

    registry: Any = pint.UnitRegistry(non_int_type=Fraction)
    registry.load_definitions(str(files("service.engine.numbers") / DEFINITIONS))
    return registry


def read_factors() -> None:
    """Import pint and load its table now; a service does so in a thread at its start, before the first factor is needed."""
    _registry()


def find_unit(word: str, quantity: Quantity) -> Unit | None:
    """The unit that a word names, of whatever quantity; None if unknown. The quantity tells what `1` means."""
    unit = UNITS.get(word)
    return COUNTED if unit is not None and quantity == "count" and unit.symbol == COUNTED.symbol else unit


def units_of(quantity: Quantity) -> list[Unit]:
    """All units of a quantity in the order of the table."""
    return [COUNTED] if quantity == "count" else [unit for unit in TABLE if unit.quantity == quantity]


def with_unit(figure: str, symbol: str) -> str:
    """A figure with its unit, `1400 N`; the figure alone for a plain ratio."""
    return figure if symbol in ("1", "") else f"{figure} {symbol}"


def distance_in(figure: str, symbol: str) -> str:
    """A distance between two values with its unit: `7.6 N`; `6 percentage points` between percentages."""
    # 6 % above 55 % could be read as 58.3 %.
    return f"{figure} {POINTS}" if symbol == "%" else with_unit(figure, symbol)
