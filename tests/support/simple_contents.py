"""A slow judge of net contents in grams by 76/211/EEC and UK SI 2006/659, written from the law texts alone."""

from collections.abc import Sequence
from fractions import Fraction
from math import ceil

PLANS = {
    "single": [(500, 50, 3, 4, 0, 0), (3200, 80, 5, 6, 0, 0), (10_000, 125, 7, 8, 0, 0)],
    "double": [(500, 30, 1, 3, 30, 4), (3200, 50, 2, 5, 50, 6), (10_000, 80, 3, 7, 80, 8)],
    "destructive": [(10_000, 20, 1, 2, 0, 0)],
}
"""(batch up to, n1, Ac1, Re1, n2, Ac of both); n2 0 of a single plan. SEEN."""


def tolerable(nominal: Fraction) -> Fraction:
    """In grams, percentages rounded up to 0.1 g."""
    if nominal <= 50:
        share, amount = "9", None
    elif nominal <= 100:
        share, amount = "", "4.5"
    elif nominal <= 200:
        share, amount = "4.5", None
    elif nominal <= 300:
        share, amount = "", "9"
    elif nominal <= 500:
        share, amount = "3", None
    elif nominal <= 1000:
        share, amount = "", "15"
    else:
        share, amount = "1.5", None
    return Fraction(amount) if amount else Fraction(ceil(nominal * Fraction(share) / 10), 10)


def mean_is_met(contents: Sequence[Fraction], nominal: Fraction, factor: Fraction) -> bool:
    """The mean and so many standard deviations are not below the nominal content, by squares."""
    mean = sum(contents, Fraction(0)) / len(contents)
    if mean >= nominal:
        return True
    variance = sum(((each - mean) ** 2 for each in contents), Fraction(0)) / (len(contents) - 1)
    return factor**2 * variance >= (nominal - mean) ** 2


def outcome_of(
    rule: str, table: str, nominal: Fraction, size: int, first: Sequence[Fraction], second: Sequence[Fraction]
) -> str:
    """`pass`, `fail` or `undecided`; each content is of a package of its own."""
    floor, utmost = nominal - tolerable(nominal), nominal - 2 * tolerable(nominal)
    if any(each < utmost for each in [*first, *second]):
        return "fail"
    if size < 100:
        return small(rule, nominal, floor, size, first)
    averaged, factor = (20, "0.640") if table == "destructive" else (30, "0.503") if size <= 500 else (50, "0.379")
    if len(first) >= averaged and not mean_is_met(first[:averaged], nominal, Fraction(factor)):
        return "fail"
    return by_shorts(table, size, [each < floor for each in first], [each < floor for each in second])


def by_shorts(table: str, size: int, first: Sequence[bool], second: Sequence[bool]) -> str:
    """By how many are short by more than is tolerable; True for one that is."""
    _, n1, accept, reject, n2, both = next(row for row in PLANS[table] if size <= row[0])
    short = sum(first[:n1])
    if short >= reject:
        return "fail"
    if len(first) < n1 or short <= accept:
        return "pass" if len(first) >= n1 else "undecided"
    if short + sum(second[:n2]) > both:
        return "fail"
    return "pass" if len(second) >= n2 else "undecided"


def small(rule: str, nominal: Fraction, floor: Fraction, size: int, contents: Sequence[Fraction]) -> str:
    """Every package is looked at, and the plain mean compared."""
    short = sum(each < floor for each in contents)
    allowed = size * 5 // 100 if rule == "uk-2006-659" else 0
    is_reported = rule == "uk-2006-659"
    if is_reported and short > allowed:
        return "fail"
    if len(contents) < size:
        return "undecided"
    if sum(contents, Fraction(0)) < nominal * size:
        return "fail"
    return "pass" if short <= allowed else "undecided"
