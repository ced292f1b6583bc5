"""How the readings of two sides differ, whatever they came to: how many, of what, and how they were taken."""

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Self

from msgspec import Struct, UnsetType

from service.engine.characteristics import CompiledCharacteristic
from service.engine.comparing.documents import Divergence
from service.engine.documents import Evidence, Series, Uncertainty, counted, listed, quoted, written
from service.engine.lot import STRUCK
from service.engine.numbers import UNITS, with_unit

MOISTURE = ("moisture_content", "moisture_regain")
"""What tells in which condition specimens were; where one side alone has measured it, nobody can set one against the other."""
KNOTTED = {"breaking_force": "knot_breaking_force", "knot_breaking_force": "breaking_force"}
"""Each is measured in place of the other at times, and neither can be worked out from the other."""
MOST_PACKAGES = 10
"""So many package ids are listed in a sentence."""


class MeasuringSummary(Struct, frozen=True):
    """What is told of all readings of one characteristic on one side, each thing once and in the order in which it came."""

    readings: int
    """Struck ones are left aside."""
    packages: Sequence[str]
    """Those that have a name."""
    unnamed: int
    """Readings that do not say of which package they are."""
    units: Sequence[str]
    methods: Sequence[str]
    """`""` where none is told."""
    uncertainties: Sequence[str]
    """In words."""
    is_overdue: bool
    """Some, at least, by an instrument that was due for calibration."""
    per_specimen: Sequence[int]
    """Of how many packages a specimen was made up."""
    stages: Sequence[int]
    remarks: Sequence[tuple[str, int]]
    """Each remark and how many readings have it, in the order of the alphabet."""

    @classmethod
    def of(cls, evidence: Evidence, name: str) -> Self | None:
        """Of a characteristic; None where no reading of it is in."""
        series = [each for each in evidence.series or () if each.characteristic == name and each.values]
        if not series:
            return None
        remarks = Counter(str(remark) for each in series for remark in each.remarks or () if remark)
        packages = [package for each in series for package in _packages_of(each)]
        return cls(
            readings=len(packages),
            packages=[each for each in dict.fromkeys(packages) if each is not None],
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
        """`4 readings of 2 packages`."""
        packages = len(self.packages) + self.unnamed
        return f"{counted(self.readings, 'reading')} of {counted(packages, 'package')}"


def _packages_of(series: Series) -> Sequence[str | None]:
    """The package of each reading that is not struck, None where it is not told."""
    packages: Sequence[str | None] = series.packages or [None] * len(series.values)
    if isinstance(series.remarks, UnsetType) or STRUCK not in series.remarks:
        return packages
    return [package for package, remark in zip(packages, series.remarks, strict=True) if remark != STRUCK]


def readings_differ(ours: Evidence, theirs: Evidence, of: CompiledCharacteristic) -> Iterator[Divergence]:
    """How the readings of a characteristic differ; nothing where neither side has any."""
    us, them = MeasuringSummary.of(ours, of.name), MeasuringSummary.of(theirs, of.name)
    if us is None or them is None:
        yield from only_one_measured(ours, theirs, of)
        return
    if us.sample != them.sample:
        yield Divergence("sample-sizes", f"Ours are {us.sample} for {of.words}, theirs are {them.sample}.")
    if us.units != them.units:
        yield _units(us, them, of)
    if set(us.methods) != set(them.methods):
        text = f"Ours were taken {_methods(us)}, theirs {_methods(them)}."
        yield Divergence("methods", f"{text} By another method {of.words} may come out otherwise.")
    if set(us.uncertainties) != set(them.uncertainties):
        yield Divergence("uncertainties", f"Of {of.words} ours state {_all(us)}, theirs {_all(them)}.")
    if us.is_overdue != them.is_overdue:
        whose, other = ("Theirs", "ours") if them.is_overdue else ("Ours", "theirs")
        text = f"{whose} come, in part at least, from an instrument that was due for calibration, {other} do not."
        yield Divergence("calibration", text)
    if set(us.per_specimen) != set(them.per_specimen):
        text = f"A specimen of ours is made up of {_specimens(us)}, one of theirs of {_specimens(them)}."
        yield Divergence("packages-per-specimen", text)
    if us.stages != them.stages:
        text = f"Ours {_stages(us)}, theirs {_stages(them)}."
        yield Divergence("stages", text)
    if us.remarks != them.remarks:
        yield Divergence("remarks", f"Remarks on ours: {_remarks(us)}; on theirs: {_remarks(them)}.")
    yield from _packages(us, them)


def only_one_measured(ours: Evidence, theirs: Evidence, of: CompiledCharacteristic) -> Iterator[Divergence]:
    """One side has readings of a characteristic and the other has none, or has knotted for straight specimens."""
    us, them = MeasuringSummary.of(ours, of.name), MeasuringSummary.of(theirs, of.name)
    if (us is None) == (them is None):
        return
    whose, other, lacking = ("We", "they", theirs) if us else ("They", "we", ours)
    text = f"{whose} measured {of.words}, {other} did not, so that one can't be set against the other."
    if of.name in MOISTURE:
        text = f"{whose} measured {of.words}, {other} did not, so nobody knows how {_whose(other)} specimens were conditioned."
        yield Divergence("conditioning", text)
        return
    yield Divergence("not-measured", text)
    instead = KNOTTED.get(of.name, "")
    if instead and MeasuringSummary.of(lacking, instead):
        words = instead.replace("_", " ")
        text = f"{other.capitalize()} measured {words} instead: a knot weakens a specimen, and neither force tells the other."
        yield Divergence("straight-or-knotted", text)


def _whose(pronoun: str) -> str:
    return "their" if pronoun == "they" else "our"


def _uncertainty(series: Series) -> str:
    """That of a series, in words."""
    stated = series.uncertainty
    if not isinstance(stated, Uncertainty):
        return "no uncertainty"
    if isinstance(stated.percent, UnsetType):
        amount = with_unit(written(stated.expanded or 0), UNITS[series.unit].symbol)
    else:
        amount = f"{written(stated.percent)} % of the value"
    return f"an expanded uncertainty of {amount} (coverage factor {written(stated.coverage_factor)})"


def _units(us: MeasuringSummary, them: MeasuringSummary, of: CompiledCharacteristic) -> Divergence:
    text = f"Ours are in {listed(us.units, 'and')}, theirs in {listed(them.units, 'and')}; all are converted exactly."
    turned = [unit for unit in dict.fromkeys([*us.units, *them.units]) if of.conversions[unit].turned_round]
    if turned:
        text = f"{text} Those in {listed(turned, 'and')} are turned round into {of.symbol} one by one."
    return Divergence("units", text)


def _methods(taking: MeasuringSummary) -> str:
    """`by "ISO 2307" and by a method that is not told`."""
    return " and ".join(f"by {quoted(each)}" if each else "by a method that is not told" for each in taking.methods)


def _all(taking: MeasuringSummary) -> str:
    return " and ".join(taking.uncertainties)


def _specimens(taking: MeasuringSummary) -> str:
    return " or ".join(counted(each, "package") for each in sorted(taking.per_specimen))


def _stages(taking: MeasuringSummary) -> str:
    return "have a second sample" if 2 in taking.stages else "have a first sample alone"  # the second stage


def _remarks(taking: MeasuringSummary) -> str:
    return ", ".join(f"{number} {quoted(remark)}" for remark, number in taking.remarks) or "none"


def _packages(us: MeasuringSummary, them: MeasuringSummary) -> Iterator[Divergence]:
    """Whether both have tested the same packages, as far as these are named."""
    if us.unnamed and them.unnamed:
        return
    if us.unnamed or them.unnamed:
        some, other = ("Theirs", "ours") if us.unnamed else ("Ours", "theirs")
        text = (
            f"{some} name the packages that they are of, {other} do not, or not all, so that nobody can tell which are in both."
        )
        yield Divergence("packages", text)
        return
    shared = [each for each in us.packages if each in set(them.packages)]
    if len(shared) == min(len(us.packages), len(them.packages)):
        # The same ones, or some of them, which the sizes of the samples tell.
        return
    more = f" and {len(shared) - MOST_PACKAGES} more" if len(shared) > MOST_PACKAGES else ""
    named = f": {', '.join(map(quoted, shared[:MOST_PACKAGES]))}{more}" if shared else ""
    both = f"{len(shared) or 'none'} {'are' if len(shared) > 1 else 'is'} in both{named}."
    text = f"Ours are of {counted(len(us.packages), 'package')}, theirs of {counted(len(them.packages), 'package')}; {both}"
    yield Divergence("packages", text)
