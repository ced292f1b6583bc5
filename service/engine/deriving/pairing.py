"""Pairing of the readings of two characteristics, package by package, and flaws of readings that can't be paired."""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

from service.engine.characteristics import CompiledCharacteristic, Readings, pointer
from service.engine.documents import Flaw, quoted

Key = tuple[str | None, int]
"""(package, running number of the reading in it); all readings without a package are numbered together under None."""


def readings_of_both(
    sources: Sequence[CompiledCharacteristic], by_characteristic: Mapping[str, Readings]
) -> tuple[Readings, Readings] | None:
    """The readings of two characteristics; None while those of one are absent."""
    one, other = (by_characteristic.get(source.name) for source in sources)
    return (one, other) if one and other else None


def partners_of(readings: Readings, others: Readings) -> list[int]:
    """For each reading the index of its partner among the others; every reading has one, as checked before.

    The first reading of a package is the partner of the other side's first reading of it, and so on in the order sent.
    """
    places = {key: number for number, key in enumerate(_keys(others))}
    return [places[key] for key in _keys(readings)]


def pairs_of(readings: Readings, others: Readings) -> tuple[Readings, Readings] | None:
    """Of two sides without flaws, the readings that still have their partner; None where no pair is left."""
    if readings.origin is None and others.origin is None:
        return readings, others
    # A reading that the grade leaves out takes its partner with it: were the later ones to move up, they would be paired with
    # readings of other specimens.
    keys = list(_keys(readings)), list(_keys(others))
    common = set(keys[0]) & set(keys[1])
    one, other = (
        side.picked([number for number, key in enumerate(found) if key in common])
        for side, found in zip((readings, others), keys, strict=True)
    )
    return (one, other) if one and other else None


def partner_flaws(derived: CompiledCharacteristic, first_side: Readings, second_side: Readings) -> Iterator[Flaw]:
    """A flaw for each package with different numbers of readings, at its first reading without a partner."""
    # Readings that the grade leaves out have a partner and count here; struck ones are as if they had never been sent.
    first_side, second_side = first_side.before_selection, second_side.before_selection
    sides = (list(_keys(first_side)), list(_keys(second_side)))
    counts = [Counter(name for name, _ in keys) for keys in sides]
    first: dict[str | None, tuple[int, int]] = {}
    for readings, keys, others in ((first_side, sides[0], counts[1]), (second_side, sides[1], counts[0])):
        for number, (name, running) in enumerate(keys):
            if running == others[name]:
                first[name] = readings.place(number)
    one, other = (source.words for source in derived.sides[:2])
    for name, place in sorted(first.items(), key=lambda item: item[1]):
        where = "Readings without a package" if name is None else f"Package {quoted(name)}"
        text = (
            f"{where}: {counts[0][name]} of {one} and {counts[1][name]} of {other}, and {derived.words} pairs them "
            "one by one. Send the same number of each."
        )
        yield Flaw("reading-without-partner", text, pointer(place), f"{derived.pointer}/derived")


def _keys(readings: Readings) -> Iterator[Key]:
    """The key by which each reading is paired, numbered among all readings that were sent."""
    if readings.origin and readings.origin.picked_of:
        whole, numbers = readings.origin.picked_of
        keys = list(_keys(whole))
        yield from (keys[number] for number in numbers)
        return
    if readings.names is None:
        yield from ((None, number) for number in range(readings.count))
        return
    running: Counter[str | None] = Counter()
    for name in readings.names:
        yield name, running[name]
        running[name] += 1
