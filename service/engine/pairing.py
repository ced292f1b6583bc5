"""How the readings of two characteristics come together in a derived one, and what keeps them from it."""

from collections import Counter
from collections.abc import Iterator, Mapping

from service.engine.characteristics import CompiledCharacteristic
from service.engine.columns import quotient_of
from service.engine.enclosures import settled
from service.engine.flaws import Flaw, quoted
from service.engine.lots import Partners, Readings, pointer
from service.engine.numerals import ZERO, side_of

Key = tuple[str | None, int]
"""A package and the running number of a reading in it; all readings without a package are numbered together."""


def pairing_flaws(derived: CompiledCharacteristic, by_characteristic: Mapping[str, Readings]) -> Iterator[Flaw]:
    """Readings without a partner, and zeros that would be divided by; nothing while one side is absent."""
    quotient, sides = derived.derived, _sides(derived, by_characteristic)
    if quotient is None or sides is None:
        return
    if quotient.of_means:
        yield from _zero_mean(derived, sides[1])
    else:
        yield from _without_partner(derived, *sides)
        yield from _zeros(derived, sides[1])


def ratio_readings(derived: CompiledCharacteristic, by_characteristic: Mapping[str, Readings]) -> Readings | None:
    """Numerator by denominator, package by package in the order sent; None for a ratio of means, or while a side is absent."""
    quotient, sides = derived.derived, _sides(derived, by_characteristic)
    if quotient is None or sides is None or quotient.of_means:
        return None
    numerator, denominator = sides
    places = {key: number for number, key in enumerate(_keys(denominator))}
    partners = [places[key] for key in _keys(numerator)]
    column = quotient_of(numerator.column, denominator.column, partners, quotient.factor)
    return Readings(column, numerator.series, numerator.names, Partners(denominator, partners))


def _sides(derived: CompiledCharacteristic, by_characteristic: Mapping[str, Readings]) -> tuple[Readings, Readings] | None:
    """(numerator, denominator), None while one is absent."""
    numerator, denominator = (by_characteristic.get(source.name) for source in derived.sources)
    return (numerator, denominator) if numerator and denominator else None


def _keys(readings: Readings) -> Iterator[Key]:
    """What each reading is paired by."""
    if readings.names is None:
        yield from ((None, number) for number in range(readings.count))
        return
    running: Counter[str | None] = Counter()
    for name in readings.names:
        yield name, running[name]
        running[name] += 1


def _without_partner(derived: CompiledCharacteristic, numerator: Readings, denominator: Readings) -> Iterator[Flaw]:
    """For each package whose numbers differ, its first reading without a partner."""
    sides = (list(_keys(numerator)), list(_keys(denominator)))
    counts = [Counter(name for name, _ in keys) for keys in sides]
    first: dict[str | None, tuple[int, int]] = {}
    for readings, keys, others in ((numerator, sides[0], counts[1]), (denominator, sides[1], counts[0])):
        for number, (name, running) in enumerate(keys):
            if running == others[name]:
                first[name] = readings.place(number)
    one, other = (source.name for source in derived.sources)
    for name, place in sorted(first.items(), key=lambda item: item[1]):
        where = "Readings without a package" if name is None else f"Package {quoted(name)}"
        text = (
            f"{where}: {counts[0][name]} of {one} and {counts[1][name]} of {other}, and {derived.name} pairs them "
            "one by one. Send as many of each."
        )
        yield Flaw("reading-without-partner", text, pointer(place), f"{derived.pointer}/derived")


def _zeros(derived: CompiledCharacteristic, denominator: Readings) -> Iterator[Flaw]:
    """Every reading of 0 that would be divided by."""
    low, high = denominator.column.extremes()
    if low > 0 or high < 0:
        return
    for number, value in enumerate(denominator.column.exact_values()):
        if value == 0:
            yield _division_by_zero(derived, denominator, number, "This reading")


def _zero_mean(derived: CompiledCharacteristic, denominator: Readings) -> Iterator[Flaw]:
    """The mean that would be divided by is 0."""
    if settled(denominator.column.mean(), lambda mean: side_of(mean, ZERO)) == 0:
        yield _division_by_zero(derived, denominator, 0, "The mean of these readings")


def _division_by_zero(derived: CompiledCharacteristic, denominator: Readings, number: int, what: str) -> Flaw:
    name = derived.sources[1].name
    text = f"{what} of {name} is 0, and {derived.name} divides by it. Leave it out, or correct it."
    return Flaw("division-by-zero", text, pointer(denominator.place(number)), f"{derived.pointer}/derived")
