"""The closed table of units. What a caller writes is looked up, never parsed.

Factors are to the SI base unit of the quantity, exactly. They stand here as numbers, since importing pint, the field's
library, takes a quarter of a second at every start; a test compares every pair of them with pint.
"""

from collections.abc import Mapping
from fractions import Fraction

from msgspec import Struct

from service.engine.vocabulary import Quantity

POUND = Fraction(45_359_237, 10**8)
"""In kilograms. International yard and pound agreement, 1959."""
INCH = Fraction(254, 10**4)
"""In metres. The same agreement: the yard is 0.9144 m."""
FOOT, YARD = 12 * INCH, 36 * INCH
GRAVITY = Fraction(980_665, 10**5)
"""Standard acceleration of gravity, m/s². 3rd CGPM, 1901."""
TEX = Fraction(1, 10**6)
"""In kg/m: one gram a kilometre. ISO 1144."""
DENIER = TEX / 9
"""One gram in 9000 metres."""


class Unit(Struct, frozen=True):
    """A unit: its symbol, quantity and exact factor to SI, and its codes in UCUM and UN/CEFACT Rec 20 where it has them."""

    symbol: str
    quantity: Quantity
    factor: Fraction
    name: str
    ucum: str = ""
    rec20: tuple[str, ...] = ()

    @property
    def words(self) -> tuple[str, ...]:
        """All by which a caller may name it."""
        return (self.symbol, *((self.ucum,) if self.ucum and self.ucum != self.symbol else ()), *self.rec20)


# Rec 20 marks kgf's B37 deprecated, has two codes for the denier, and none for daN, ktex, runnage or twist.
TABLE = (
    Unit("N", "force", Fraction(1), "newton", "N", ("NEW",)),
    Unit("mN", "force", Fraction(1, 1000), "millinewton", "mN", ("C29",)),
    Unit("cN", "force", Fraction(1, 100), "centinewton", "cN"),
    Unit("daN", "force", Fraction(10), "decanewton", "daN"),
    Unit("kN", "force", Fraction(1000), "kilonewton", "kN", ("B47",)),
    Unit("gf", "force", GRAVITY / 1000, "gram-force", "gf"),
    Unit("kgf", "force", GRAVITY, "kilogram-force", "kgf", ("B37",)),
    Unit("tf", "force", GRAVITY * 1000, "tonne-force", "Mgf"),
    Unit("ozf", "force", POUND * GRAVITY / 16, "ounce-force", "[lbf_av]/16", ("L40",)),
    Unit("lbf", "force", POUND * GRAVITY, "pound-force", "[lbf_av]", ("C78",)),
    Unit("mg", "mass", Fraction(1, 10**6), "milligram", "mg", ("MGM",)),
    Unit("g", "mass", Fraction(1, 1000), "gram", "g", ("GRM",)),
    Unit("kg", "mass", Fraction(1), "kilogram", "kg", ("KGM",)),
    Unit("t", "mass", Fraction(1000), "tonne", "t", ("TNE",)),
    Unit("oz", "mass", POUND / 16, "ounce", "[oz_av]", ("ONZ",)),
    Unit("lb", "mass", POUND, "pound", "[lb_av]", ("LBR",)),
    Unit("mm", "length", Fraction(1, 1000), "millimetre", "mm", ("MMT",)),
    Unit("cm", "length", Fraction(1, 100), "centimetre", "cm", ("CMT",)),
    Unit("m", "length", Fraction(1), "metre", "m", ("MTR",)),
    Unit("km", "length", Fraction(1000), "kilometre", "km", ("KMT",)),
    Unit("in", "length", INCH, "inch", "[in_i]", ("INH",)),
    Unit("ft", "length", FOOT, "foot", "[ft_i]", ("FOT",)),
    Unit("yd", "length", YARD, "yard", "[yd_i]", ("YRD",)),
    Unit("m/kg", "length_per_mass", Fraction(1), "metre per kilogram", "m/kg"),
    Unit("km/kg", "length_per_mass", Fraction(1000), "kilometre per kilogram", "km/kg"),
    Unit("m/g", "length_per_mass", Fraction(1000), "metre per gram", "m/g"),
    Unit("ft/lb", "length_per_mass", FOOT / POUND, "foot per pound", "[ft_i]/[lb_av]"),
    Unit("yd/lb", "length_per_mass", YARD / POUND, "yard per pound", "[yd_i]/[lb_av]"),
    Unit("tex", "mass_per_length", TEX, "tex", "tex", ("D34",)),
    Unit("dtex", "mass_per_length", TEX / 10, "decitex", "dtex", ("A47",)),
    Unit("ktex", "mass_per_length", TEX * 1000, "kilotex", "ktex"),
    Unit("den", "mass_per_length", DENIER, "denier", "[den]", ("A49", "M83")),
    Unit("g/m", "mass_per_length", Fraction(1, 1000), "gram per metre", "g/m", ("GF",)),
    Unit("kg/m", "mass_per_length", Fraction(1), "kilogram per metre", "kg/m", ("KL",)),
    Unit("kg/km", "mass_per_length", Fraction(1, 1000), "kilogram per kilometre", "kg/km", ("M31",)),
    Unit("lb/ft", "mass_per_length", POUND / FOOT, "pound per foot", "[lb_av]/[ft_i]", ("P2",)),
    Unit("lb/100ft", "mass_per_length", POUND / FOOT / 100, "pound per hundred feet", "[lb_av]/(100.[ft_i])"),
    Unit("kg/220m", "mass_per_length", Fraction(1, 220), "kilogram per coil of 220 metres", "kg/(220.m)"),
    Unit("turn/m", "turns_per_length", Fraction(1), "turn per metre", "{turn}/m"),
    Unit("turn/cm", "turns_per_length", Fraction(100), "turn per centimetre", "{turn}/cm"),
    Unit("turn/in", "turns_per_length", 1 / INCH, "turn per inch", "{turn}/[in_i]"),
    Unit("turn/ft", "turns_per_length", 1 / FOOT, "turn per foot", "{turn}/[ft_i]"),
    Unit("N/tex", "force_per_mass_per_length", 1 / TEX, "newton per tex", "N/tex"),
    Unit("cN/tex", "force_per_mass_per_length", Fraction(1, 100) / TEX, "centinewton per tex", "cN/tex"),
    Unit("mN/tex", "force_per_mass_per_length", Fraction(1, 1000) / TEX, "millinewton per tex", "mN/tex"),
    Unit("gf/den", "force_per_mass_per_length", GRAVITY / 1000 / DENIER, "gram-force per denier", "gf/[den]"),
    Unit("%", "ratio", Fraction(1, 100), "percent", "%", ("P1",)),
    Unit("1", "ratio", Fraction(1), "one", "1", ("C62",)),
    Unit("s", "time", Fraction(1), "second", "s", ("SEC",)),
    Unit("min", "time", Fraction(60), "minute", "min", ("MIN",)),
    Unit("h", "time", Fraction(3600), "hour", "h", ("HUR",)),
    Unit("d", "time", Fraction(86400), "day", "d", ("DAY",)),
)
COUNTED = Unit("1", "count", Fraction(1), "one", "1", ("C62",))
"""A count has this unit alone; `1` names it where a count is meant, and a plain ratio elsewhere."""

UNITS: Mapping[str, Unit] = {word: unit for unit in TABLE for word in unit.words}

RECIPROCAL: Mapping[Quantity, Quantity] = {"length_per_mass": "mass_per_length", "mass_per_length": "length_per_mass"}
"""Readings may come in a unit of the other quantity and are then turned round one by one."""

MEANT_AS_FORCE: Mapping[str, str] = {"lb": "lbf", "kg": "kgf", "g": "gf", "oz": "ozf", "t": "tf"}
"""A station's slip says pounds and means the force; it is told so, never taken for it."""


def find_unit(word: str, quantity: Quantity) -> Unit | None:
    """The unit that this word names where this quantity is meant; a unit of another quantity if it is one; None if unknown."""
    unit = UNITS.get(word)
    return COUNTED if unit is not None and quantity == "count" and unit.symbol == COUNTED.symbol else unit


def units_of(quantity: Quantity) -> list[Unit]:
    """All units of a quantity, in the order of the table."""
    return [COUNTED] if quantity == "count" else [unit for unit in TABLE if unit.quantity == quantity]


def with_unit(figure: str, symbol: str) -> str:
    """A figure in a sentence: `1400 N`; a plain ratio has no unit to show."""
    return figure if symbol in ("1", "") else f"{figure} {symbol}"


def apart_in(figure: str, symbol: str) -> str:
    """A distance in a sentence: of two percentages in percentage points, since 6 % above 55 % could be taken for 58.3 %."""
    return f"{figure} percentage points" if symbol == "%" else with_unit(figure, symbol)
