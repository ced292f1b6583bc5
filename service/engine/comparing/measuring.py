"""Differences between two sides' readings other than their values: how many, of which packages, and how measured."""

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Self

from msgspec import Struct, UnsetType

from service.engine.characteristics import CompiledCharacteristic
from service.engine.comparing.documents import Divergence
from service.engine.documents import Evidence, Series, Uncertainty, counted, listed, quoted, written
from service.engine.lot import SECOND, STRUCK
from service.engine.numbers import UNITS, with_unit

MOISTURE = ("moisture_content", "moisture_regain")
"""Characteristics that show how specimens were conditioned; if one side alone measured them, results are not comparable."""
KNOTTED = {"breaking_force": "knot_breaking_force", "knot_breaking_force": "breaking_force"}
"""Characteristics that are sometimes measured in place of each other; neither can be calculated from the other."""
MOST_PACKAGES = 10
"""The most package ids that are listed in a sentence."""


class MeasuringSummary(Struct, frozen=True):
    """How one side measured a characteristic; each unit, method and so on is listed once, in the order of the evidence."""

    readings: int
    """Number of readings, without struck ones."""
    packages: Sequence[str]
    """The package ids that are given."""
    unnamed: int
    """Number of readings without a package id."""
    units: Sequence[str]
    methods: Sequence[str]
    """`""` for a series that states none."""
    uncertainties: Sequence[str]
    """Each in words, as a part of a sentence."""
    is_overdue: bool
    """True where at least one series is from an instrument overdue for calibration."""
    per_specimen: Sequence[int]
    """Numbers of packages of which a specimen is made up."""
    stages: Sequence[int]
    remarks: Sequence[tuple[str, int]]
    """(remark, number of readings that have it), sorted by remark."""

    @classmethod
    def of(cls, evidence: Evidence, name: str) -> Self | None:
        """The summary of a characteristic; None where the evidence has no reading of it."""
        series = [each for each in evidence.series or () if each.characteristic == name and each.values]
        if not series:
            return None
        remarks = Counter(str(remark) for each in series for remark in each.remarks or () if remark)
        packages = [package for each in series for package in _packages_of(each)]
        return cls(
            readings=len(packages),
            packages=[package for package in dict.fromkeys(packages) if package is not None],
            unnamed=packages.count(None),
            units=list(dict.fromkeys(UNITS[each.unit].symbol for each in series)),
            methods=list(dict.fromkeys(each.method or "" for each in series)),
            uncertainties=list(dict.fromkeys(_uncertainty(each) for each in series)),
            is_overdue=any(each.calibration for each in series),
            per_specimen=list(dict.fromkeys(each.packages_per_specimen or 1 for each in series)),
            stages=sorted({each.stage or 1 for each in series}),
            remarks=sorted(remarks.items()),
        )

    @property
    def sample(self) -> str:
        """The size of the sample in words: `4 readings of 2 packages`."""
        # Each reading without an id counts as a package of its own, as it does for a sampling plan.
        packages = len(self.packages) + self.unnamed
        return f"{counted(self.readings, 'reading')} of {counted(packages, 'package')}"


def _packages_of(series: Series) -> Sequence[str | None]:
    """The package id of each reading that is not struck; None for a reading without one."""
    packages: Sequence[str | None] = series.packages or [None] * len(series.values)
    if isinstance(series.remarks, UnsetType) or STRUCK not in series.remarks:
        return packages
    return [package for package, remark in zip(packages, series.remarks, strict=True) if remark != STRUCK]


def readings_differ(ours: Evidence, theirs: Evidence, of: CompiledCharacteristic) -> Iterator[Divergence]:
    """The differences between the readings of a characteristic; none where neither side has any.

    of  a measured characteristic of the grade, by which both sides were judged
    """
    us, them = MeasuringSummary.of(ours, of.name), MeasuringSummary.of(theirs, of.name)
    if us is None or them is None:
        yield from only_one_measured(ours, theirs, of)
        return
    if us.sample != them.sample:
        yield Divergence("sample-sizes", f"Of {of.words} we have {us.sample}, and they have {them.sample}.")
    if us.units != them.units:
        yield _units(us, them, of)
    # Compared as sets: the order in which a side lists its series is no difference in measuring.
    if set(us.methods) != set(them.methods):
        text = f"Our readings were taken {_methods(us)}, theirs {_methods(them)}."
        yield Divergence("methods", f"{text} Another method may give another {of.words}.")
    if set(us.uncertainties) != set(them.uncertainties):
        yield Divergence("uncertainties", f"For {of.words} we give {_uncertainties(us)}, and they give {_uncertainties(them)}.")
    if us.is_overdue != them.is_overdue:
        whose, other = ("Their", "ours") if them.is_overdue else ("Our", "theirs")
        text = f"{whose} readings come, at least in part, from an instrument overdue for calibration; {other} do not."
        yield Divergence("calibration", text)
    if set(us.per_specimen) != set(them.per_specimen):
        text = f"Our specimens are made up of {_specimens(us)} each, theirs of {_specimens(them)}."
        yield Divergence("packages-per-specimen", text)
    if us.stages != them.stages:
        text = f"We {_stages(us)}; they {_stages(them)}."
        yield Divergence("stages", text)
    if us.remarks != them.remarks:
        yield Divergence("remarks", f"Remarks on our readings: {_remarks(us)}; on theirs: {_remarks(them)}.")
    yield from _packages(us, them)


def only_one_measured(ours: Evidence, theirs: Evidence, of: CompiledCharacteristic) -> Iterator[Divergence]:
    """The differences where one side alone measured a characteristic, also where the other tested knots instead."""
    us, them = MeasuringSummary.of(ours, of.name), MeasuringSummary.of(theirs, of.name)
    if (us is None) == (them is None):
        return
    whose, other, lacking = ("We", "they", theirs) if us else ("They", "we", ours)
    text = f"{whose} measured {of.words} and {other} did not, so the two cannot be compared."
    # Reported apart, since it puts all results of that side in question, not those of one characteristic.
    if of.name in MOISTURE:
        text = (
            f"{whose} measured {of.words} and {other} did not, so how {_whose(other)} specimens were conditioned is not known."
        )
        yield Divergence("conditioning", text)
        return
    yield Divergence("not-measured", text)
    instead = KNOTTED.get(of.name, "")
    if instead and MeasuringSummary.of(lacking, instead):
        words = instead.replace("_", " ")
        text = f"{other.capitalize()} measured {words} instead: a knot weakens a specimen, and neither force gives the other."
        yield Divergence("straight-or-knotted", text)


def _whose(pronoun: str) -> str:
    return "their" if pronoun == "they" else "our"


def _uncertainty(series: Series) -> str:
    """The uncertainty of a series, in words."""
    stated = series.uncertainty
    if not isinstance(stated, Uncertainty):
        return "no uncertainty"
    if isinstance(stated.percent, UnsetType):
        amount = with_unit(written(stated.expanded or 0), UNITS[series.unit].symbol)
    else:
        amount = f"{written(stated.percent)} % of the value"
    return f"an expanded uncertainty of {amount} (coverage factor {written(stated.coverage_factor)})"


def _units(us: MeasuringSummary, them: MeasuringSummary, of: CompiledCharacteristic) -> Divergence:
    text = f"Our readings are in {listed(us.units, 'and')}, theirs in {listed(them.units, 'and')}; all are converted exactly."
    turned = [unit for unit in dict.fromkeys([*us.units, *them.units]) if of.conversions[unit].turned_round]
    if turned:
        text = f"{text} Those in {listed(turned, 'and')} are inverted into {of.symbol} one by one."
    return Divergence("units", text)


def _methods(summary: MeasuringSummary) -> str:
    """The methods in words: `by "ISO 2307" and by a method that is not told`."""
    return " and ".join(f"by {quoted(method)}" if method else "by a method that is not given" for method in summary.methods)


def _uncertainties(summary: MeasuringSummary) -> str:
    return " and ".join(summary.uncertainties)


def _specimens(summary: MeasuringSummary) -> str:
    return " or ".join(counted(number, "package") for number in sorted(summary.per_specimen))


def _stages(summary: MeasuringSummary) -> str:
    return "have a second sample" if SECOND in summary.stages else "have only a first sample"


def _remarks(summary: MeasuringSummary) -> str:
    return ", ".join(f"{number} {quoted(remark)}" for remark, number in summary.remarks) or "none"


def _packages(us: MeasuringSummary, them: MeasuringSummary) -> Iterator[Divergence]:
    """The difference in packages, if the package ids show one."""
    if us.unnamed and them.unnamed:
        return
    if us.unnamed or them.unnamed:
        some, other = ("They", "we") if us.unnamed else ("We", "they")
        text = f"{some} name all their packages and {other} do not, so which packages are in both is not known."
        yield Divergence("packages", text)
        return
    tested = set(them.packages)
    shared = [package for package in us.packages if package in tested]
    if len(shared) == min(len(us.packages), len(them.packages)):
        # The same packages, or a part of them: the difference in sample sizes is reported already.
        return
    more = f" and {len(shared) - MOST_PACKAGES} more" if len(shared) > MOST_PACKAGES else ""
    named = f": {', '.join(map(quoted, shared[:MOST_PACKAGES]))}{more}" if shared else ""
    both = f"{len(shared) or 'none'} {'are' if len(shared) > 1 else 'is'} in both{named}."
    text = f"We tested {counted(len(us.packages), 'package')}, they tested {counted(len(them.packages), 'package')}; {both}"
    yield Divergence("packages", text)
