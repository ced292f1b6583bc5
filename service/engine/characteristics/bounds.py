"""Compiled limits, with tolerances resolved exactly and a pointer to the grade's member behind each side; and their flaws."""

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction

from msgspec import UNSET, Struct, UnsetType
from msgspec.structs import force_setattr, replace

from service.engine.characteristics.characteristic import CompiledCharacteristic
from service.engine.characteristics.limits import Allowed, Dependent, Limits, Outer, Rounding
from service.engine.documents import Flaw, ResolvedLimits, capitalised, listed, neither_or_both, number_flaws, written
from service.engine.numbers import Figures, decimals_of, exact, figures_of, plain, reported, with_unit

SIDES = ("lower", "upper")
MEMBERS: Mapping[str, tuple[str, str]] = {"lower": ("lower", "above"), "upper": ("upper", "below")}
"""By side, the member of `limits` that includes its own value and the one that excludes it."""
EXCLUDED: Mapping[str, str] = {"lower": ", and must be above it", "upper": ", and must be below it"}
HUNDRED = 100
NUMBERS = ("lower", "upper", "above", "below", "nominal", "minus", "plus")


class Position(Struct, frozen=True):
    """The position of a value relative to a limit, in numbers and words."""

    is_met: bool
    """True inside the limit, and on it unless it excludes its own value."""
    distance: float
    """The distance inside the limit, negative outside; the nearest double."""
    value: float
    """The double nearest to the value."""
    shown: str
    """The value in a sentence: `1392.4 N`."""
    where: str
    """The position in a sentence: `is 7.6 N below the lower limit of 1400 N`."""


class LimitSide(Struct, frozen=True):
    """One limit: its side, its value, and the pointer to the grade's member that gives it (`lower`, or `minus`)."""

    name: str
    limit: Fraction
    pointer: str
    reported: int | float
    unit: str
    words: str
    """The limit in a sentence: `the lower limit of 1400 N`."""
    decimals: int
    """The number of decimals of the limit."""
    excludes: bool = False
    """True where a value on the limit is outside."""
    figures: "Figures | None" = None
    """The figures of values beside it, derived from the other members."""

    def __post_init__(self) -> None:
        """Prepare the figures of every sentence about this limit."""
        # Once at compilation instead of in every finding. The Struct is frozen, so a derived member is set by force.
        force_setattr(self, "figures", figures_of(self.limit, self.decimals, self.unit, self.words, f"exactly on {self.words}"))

    def margin(self, value: Fraction) -> Fraction:
        """The distance of a value inside the limit, exactly; negative outside."""
        return value - self.limit if self.name == "lower" else self.limit - value

    def standing(self, value: Fraction) -> Position:
        """The position of a value relative to this limit."""
        numerator, denominator = value.as_integer_ratio()
        figures = self.figures
        assert figures
        # By integers alone: an exact comparison, and two divisions, which Python rounds correctly. Fractions would take a gcd.
        apart = numerator * figures.denominator - figures.numerator * denominator
        shown, where = figures.beside_ratio(numerator, denominator, apart)
        inside = apart if self.name == "lower" else -apart
        is_met = self._is_met(inside)
        if inside == 0 and not is_met:
            where += EXCLUDED[self.name]
        return Position(is_met, inside / (denominator * figures.denominator), numerator / denominator, shown, where)

    def distance(self, value: Fraction) -> float:
        """The distance of a value inside the limit, negative outside; the nearest double."""
        numerator, denominator = value.as_integer_ratio()
        limit, whole = self.limit.as_integer_ratio()
        apart = numerator * whole - limit * denominator
        return (apart if self.name == "lower" else -apart) / (denominator * whole)

    def _is_met(self, inside: Fraction | int) -> bool:
        """Whether a value at this distance inside the limit meets it; only the sign counts."""
        return inside > 0 or (inside == 0 and not self.excludes)


class Bounds(Struct, frozen=True):
    """Compiled limits in the characteristic's unit, at least one side; without the sides that depend on the lot."""

    lower: LimitSide | None
    upper: LimitSide | None
    nominal: Fraction | None = None
    alone: LimitSide | None = None
    """The side of one-sided limits, else None; derived from the sides."""
    excludes: bool = False
    """True where a side excludes its own value; derived from the sides."""
    limits: tuple[Fraction | None, Fraction | None] = (None, None)
    """(lower, upper), None for an open side; derived from the sides."""

    def __post_init__(self) -> None:
        """Set the derived members."""
        # Once at compilation, as every lot needs them.
        sides = self.sides
        force_setattr(self, "alone", sides[0] if len(sides) == 1 else None)
        force_setattr(self, "excludes", any(side.excludes for side in sides))
        limits = (self.lower.limit if self.lower else None), (self.upper.limit if self.upper else None)
        force_setattr(self, "limits", limits)

    @property
    def sides(self) -> Sequence[LimitSide]:
        """The sides that are bounded, the lower one first."""
        return [side for side in (self.lower, self.upper) if side]

    def nearest(self, value: Fraction) -> LimitSide:
        """The side with the smallest margin, the lower one of equal sides. Raises ValueError without sides."""
        if self.alone:
            return self.alone
        if self.lower and self.upper:
            return self.lower if self.lower.margin(value) <= self.upper.margin(value) else self.upper
        raise ValueError("The limits have no side.")

    def margin(self, value: Fraction) -> Fraction:
        """The distance from the nearest limit, exactly; negative outside."""
        return self.nearest(value).margin(value)

    def of_whole_values(self) -> "Bounds":
        """The same limits for values that are always whole, which sentences then write without an extra decimal."""
        # Values are written with one decimal more than the limit has, so the limit's number of decimals is lowered by one.
        lower, upper = (replace(side, decimals=side.decimals - 1) if side else None for side in (self.lower, self.upper))
        return Bounds(lower, upper, self.nominal)

    def resolved(self, unit: str, outer: "Bounds | None" = None) -> ResolvedLimits:
        """The limits as a finding reports them."""
        lower, upper = self.lower, self.upper
        return ResolvedLimits(
            lower=lower.reported if lower and not lower.excludes else UNSET,
            upper=upper.reported if upper and not upper.excludes else UNSET,
            above=lower.reported if lower and lower.excludes else UNSET,
            below=upper.reported if upper and upper.excludes else UNSET,
            nominal=reported(self.nominal) if self.nominal is not None else UNSET,
            outer=outer.resolved("") if outer else UNSET,
            unit=unit or UNSET,
        )


def bounds_of(limits: Limits | Outer, unit: str, pointer: str) -> Bounds:
    """Compile limits without flaws.

    unit     the symbol of their unit
    pointer  JSON Pointer to them in the grade
    """
    found = dict(_sides(limits))
    nominal = None if isinstance(limits, Outer) or isinstance(limits.nominal, UnsetType) else exact(limits.nominal)
    word = "outer limit" if isinstance(limits, Outer) else "limit"
    lower, upper = (_side(name, word, found[name], unit, pointer) if name in found else None for name in SIDES)
    return Bounds(lower, upper, nominal)


def _side(name: str, word: str, found: tuple[str, Fraction], unit: str, pointer: str) -> LimitSide:
    member, limit = found
    words = f"the {name} {word} of {with_unit(plain(limit), unit)}"
    excludes = member in ("above", "below")
    return LimitSide(name, limit, f"{pointer}/{member}", reported(limit), unit, words, decimals_of(limit), excludes)


def member_of(limits: Limits | Outer, side: str) -> str | None:
    """The member of the document that gives this side, tolerances about a nominal apart; None where none does."""
    members = MEMBERS[side] if isinstance(limits, Limits) else (side,)
    return next((member for member in members if _given(getattr(limits, member))), None)


def _sides(limits: Limits | Outer) -> Iterator[tuple[str, tuple[str, Fraction]]]:
    """Pairs (side, (member of the document, limit)), without limits that depend on the lot. 130 ± 5 %: 123.5 and 136.5."""
    for side in SIDES:
        member = member_of(limits, side)
        if member and not isinstance(number := getattr(limits, member), Dependent):
            yield side, (member, exact(number))
    if isinstance(limits, Outer) or isinstance(limits.nominal, UnsetType):
        return
    nominal = exact(limits.nominal)
    # Of the magnitude, so that `minus` lies below a negative nominal too.
    unit = abs(nominal) / HUNDRED if limits.tolerance == "percent" else Fraction(1)
    for side, member, sign in (("lower", "minus", -1), ("upper", "plus", 1)):
        if not isinstance(tolerance := getattr(limits, member), UnsetType):
            yield side, (member, nominal + sign * unit * exact(tolerance))


def limits_flaws(limits: Limits, of: CompiledCharacteristic, at: str) -> Iterator[Flaw]:
    """Flaws of the limits of a requirement on this characteristic."""
    given = {name: number for name in NUMBERS if _given(number := getattr(limits, name))}
    numbers = {name: number for name, number in given.items() if not isinstance(number, Dependent)}
    # A number out of range is reported alone: what else seems wrong may follow from it.
    if broken := list(_number_flaws(numbers, of, at)):
        yield from broken
        return
    by_nominal = [name for name in ("nominal", "minus", "plus", "tolerance") if _given(getattr(limits, name))]
    if by_nominal and any(member_of(limits, side) for side in SIDES):
        others = listed(by_nominal, "and")
        text = f"Limits are either `lower` and `upper`, or a `nominal` with tolerances. Remove {others}, or the others."
        yield Flaw("limits-in-two-ways", text, at)
    elif by_nominal:
        yield from _nominal_flaws(limits, of, at)
    elif not given:
        yield Flaw("limits-without-sides", "The limits have neither a lower nor an upper side. Give at least one.", at)
    for including, excluding in MEMBERS.values():
        if including in given and excluding in given:
            text = f"`{including}` includes its own value and `{excluding}` excludes it. Remove one of the two."
            yield Flaw("limits-in-two-ways", text, f"{at}/{excluding}")
    yield from _order_flaws(limits, of, at)


def _given(member: object) -> bool:
    return not isinstance(member, UnsetType)


def _number_flaws(numbers: Mapping[str, float], of: CompiledCharacteristic, at: str) -> Iterator[Flaw]:
    """Flaws in the range and the sign of each number."""
    # Of all quantities only a ratio may be negative.
    for name, number in numbers.items():
        yield from number_flaws(number, f"{at}/{name}")
        if number < 0 and name in ("minus", "plus"):
            yield Flaw(
                "negative-tolerance",
                f"A tolerance has no sign, and {written(number)} has one. Remove the minus sign.",
                f"{at}/{name}",
            )
        elif number < 0 and of.quantity != "ratio":
            yield Flaw(
                "negative",
                f"{capitalised(of.words)} is never negative, and {written(number)} is. Correct the limit.",
                f"{at}/{name}",
            )


def _nominal_flaws(limits: Limits, of: CompiledCharacteristic, at: str) -> Iterator[Flaw]:
    """Flaws of a nominal without tolerance, of a tolerance without nominal or kind, and of a lower limit below 0."""
    if not _given(limits.nominal):
        yield Flaw("missing-field", "Tolerances need a `nominal`, which is missing. Add it.", f"{at}/nominal")
    if not _given(limits.tolerance):
        text = "It is not given whether `minus` and `plus` are a percentage. Add `tolerance`: `percent` or `absolute`."
        yield Flaw("missing-field", text, f"{at}/tolerance")
    if not _given(limits.minus) and not _given(limits.plus):
        yield Flaw("limits-without-sides", "The nominal has no tolerance. Give `minus`, `plus` or both.", at)
    if _given(limits.nominal) and _given(limits.tolerance) and of.quantity != "ratio":
        lower = dict(_sides(limits)).get("lower")
        if lower and lower[1] < 0:
            text = f"The lower limit is {plain(lower[1])}, and {of.words} is never negative. Make `minus` smaller."
            yield Flaw("negative", text, f"{at}/minus")


def _order_flaws(limits: Limits, of: CompiledCharacteristic, at: str) -> Iterator[Flaw]:
    """The flaw of a lower limit above the upper one, or equal to it where one of the two excludes its value."""
    found = dict(_sides(limits))
    if len(found) < len(SIDES) or not all(member_of(limits, side) for side in SIDES):
        return
    (member, least), (other, greatest) = found["lower"], found["upper"]
    lower, upper = (with_unit(plain(limit), of.symbol) for limit in (least, greatest))
    if least > greatest:
        text = f"The lower limit, {lower}, is above the upper one, {upper}. Swap them or correct one."
        yield Flaw("limits-upside-down", text, at)
    elif least == greatest and (member, other) != SIDES:
        text = f"Both limits are {lower}, and one of them excludes it, so no value can be within them. Correct one."
        yield Flaw("limits-upside-down", text, at)


def outer_flaws(outer: Outer, limits: Limits, of: CompiledCharacteristic, at: str) -> Iterator[Flaw]:
    """Flaws of outer limits on a side that `limits` leaves open, or inside `limits`."""
    numbers = {name: number for name in SIDES if _given(number := getattr(outer, name))}
    if not numbers:
        yield Flaw(
            "limits-without-sides",
            "The outer limits have neither a lower nor an upper side. Give one, or remove `outer`.",
            at,
        )
    if broken := list(_number_flaws(numbers, of, at)):
        yield from broken
        return
    # Flaws of `limits` are reported where these are checked; comparing with wrong ones would only repeat them.
    if any(limits_flaws(limits, of, "")):
        return
    inner = dict(_sides(limits))
    for name, number in numbers.items():
        member = member_of(limits, name)
        if name not in inner and member is None:
            text = f"`limits` has no {name} side, so `outer` cannot have one. Give it in both, or in neither."
            yield Flaw("outer-on-open-side", text, f"{at}/{name}")
        elif name in inner and (exact(number) > inner[name][1]) == (name == "lower") and exact(number) != inner[name][1]:
            outermost, limit = plain(exact(number)), plain(inner[name][1])
            text = f"The outer {name} limit, {outermost}, is inside the {name} limit, {limit}. Move it outside."
            yield Flaw("outer-inside", text, f"{at}/{name}")


def allowed_flaws(allowed: Allowed, at: str) -> Iterator[Flaw]:
    """Flaws of an allowance that has not exactly one of count and percentage, or a percentage out of range."""
    if _given(allowed.count) == _given(allowed.percent):
        yield Flaw("count-or-percent", neither_or_both("count", "percent", is_both=_given(allowed.count)), at)
    elif not isinstance(allowed.percent, UnsetType):
        yield from number_flaws(allowed.percent, f"{at}/percent")


def rounding_flaws(rounding: Rounding, at: str) -> Iterator[Flaw]:
    """Flaws of a rounding whose step is out of range, or that has not exactly one of `ties` and `toward`."""
    yield from number_flaws(rounding.step, f"{at}/step")
    if isinstance(rounding.ties, UnsetType) and isinstance(rounding.toward, UnsetType):
        text = (
            "Which way a value half-way is rounded is missing. Add `ties`, `even` or `away`; or round always `toward` one side."
        )
        yield Flaw("missing-field", text, f"{at}/ties")
    elif rounding.ties and rounding.toward:
        text = "A value that is always rounded `toward` one side has no `ties`. Remove one of the two."
        yield Flaw("rounding-in-two-ways", text, f"{at}/toward")
