"""A judge that is slow and plain on purpose: documents as dicts, numbers as fractions, loops without a trick.

The engine is compared with it. It was written from the rules alone and takes no line of the engine.
"""

from collections.abc import Mapping, Sequence
from datetime import date
from fractions import Fraction
from typing import NamedTuple

from tests.support.exact import Root, exact, root, root_to_step, to_step
from tests.support.simple_sampling import Missing, Shortage, missing_of
from tests.support.simple_values import (
    Document,
    Reading,
    characteristic_of,
    measured_readings,
    sides_of,
    standing_readings,
    values_of,
)


class Simple(NamedTuple):
    """What a finding must say: `measured` holds every pair of value and observed that may stand there, none if empty."""

    outcome: str
    measured: Sequence[tuple[float, float | None]] = ()
    margin: float | None = None
    outside: int | None = None
    allowed: int | None = None
    missing: Sequence[Missing] = ()


UNDECIDED = Simple("undecided")


class Limits(NamedTuple):
    """Limits worked out, None on an open side."""

    lower: Fraction | None
    upper: Fraction | None

    def margin(self, value: Fraction) -> Fraction:
        """Distance from the nearest limit, negative outside."""
        distances = []
        if self.lower is not None:
            distances.append(value - self.lower)
        if self.upper is not None:
            distances.append(self.upper - value)
        return min(distances)


def limits_of(document: Document) -> Limits:
    """Limits in either form; a percent tolerance is of the nominal's magnitude."""
    if "nominal" not in document:
        return Limits(
            exact(document["lower"]) if "lower" in document else None,
            exact(document["upper"]) if "upper" in document else None,
        )
    nominal = exact(document["nominal"])
    scale = abs(nominal) / 100 if document["tolerance"] == "percent" else Fraction(1)
    return Limits(
        nominal - exact(document["minus"]) * scale if "minus" in document else None,
        nominal + exact(document["plus"]) * scale if "plus" in document else None,
    )


def judge_simply(specification: Document, evidence: Document) -> dict[str, Simple]:
    """A finding for each requirement, by its id."""
    return {each["id"]: finding(specification, evidence, each) for each in specification["requirements"]}


def verdict_simply(specification: Document, findings: Mapping[str, Simple]) -> str:
    """The verdict fails if a binding finding fails, else is undecided if one is undecided, else passes."""
    outcomes = [findings[each["id"]].outcome for each in specification["requirements"] if each.get("binding", True)]
    for outcome in ("fail", "undecided"):
        if outcome in outcomes:
            return outcome
    return "pass"


def finding(specification: Document, evidence: Document, requirement: Document) -> Simple:
    """One finding; while the sample is short, only a failure that nothing could undo is decided."""
    if requirement["kind"] in {"declared", "age"}:
        return (declared if requirement["kind"] == "declared" else age)(evidence, requirement)
    readings = list[Reading]()
    if requirement["kind"] == "each" and requirement.get("over", "readings") == "readings":
        readings = list(measured_readings_of(specification, evidence, requirement))
    has_breaks = any(reading.remark == "broke_outside_marks" for reading in readings)
    shortage = missing_of(specification, evidence, requirement, outside_marks=has_breaks)
    if is_in_doubt(specification, evidence, requirement):
        return UNDECIDED._replace(missing=shortage.missing)
    if has_breaks:
        return each_with_breaks_outside_marks(specification, evidence, requirement, readings, shortage)
    values = values_of(specification, evidence, requirement)
    if not values:
        return UNDECIDED._replace(missing=shortage.missing)
    found = KINDS[requirement["kind"]](values, requirement)
    if shortage.is_short and not is_lost(values, requirement):
        return UNDECIDED._replace(missing=shortage.missing)
    return found


def declared(evidence: Document, requirement: Document) -> Simple:
    """The declared value is one of those that will do; 1 is 1.0 and is not true."""
    for declaration in evidence.get("declared", []):
        if declaration["characteristic"] == requirement["of"]:
            value = declaration["value"]
            if "limits" in requirement:
                margin = limits_of(requirement["limits"]).margin(exact(value))
                return Simple("pass" if margin >= 0 else "fail", [(float(value), None)], float(margin))
            same = [
                each for each in requirement["one_of"] if each == value and isinstance(each, bool) == isinstance(value, bool)
            ]
            return Simple("pass" if same else "fail")
    return UNDECIDED


def age(evidence: Document, requirement: Document) -> Simple:
    """Days from one event to the other, or from that which lets them count anew; past the upper limit as the grade says."""
    dates = {each["event"]: date.fromisoformat(each["date"]) for each in evidence.get("dates", [])}
    if requirement["from"] not in dates or requirement["to"] not in dates:
        return UNDECIDED
    start = max(dates[requirement["from"]], dates.get(requirement.get("restarted_by"), date.min))
    days = Fraction(dates[requirement["to"]].toordinal() - start.toordinal())
    limits = limits_of(requirement["limits"])
    if requirement.get("past") == "undecided" and limits.upper is not None and days > limits.upper:
        return UNDECIDED._replace(measured=[(float(days), None)])
    margin = limits.margin(days)
    return Simple("pass" if margin >= 0 else "fail", [(float(days), None)], float(margin))


def is_in_doubt(specification: Document, evidence: Document, requirement: Document) -> bool:
    """Whether readings that it rests on are implausible, by another method, or remarked with what has no rule."""
    for name in sides_of(specification, requirement["of"]):
        told = characteristic_of(specification, name)
        rules = told.get("remarks", {})
        known = {"", "confirmed", *rules.get("leave_out", [])}
        if "passes_outside_marks_at" in rules:
            known.add("broke_outside_marks")
        standing = standing_readings(specification, evidence, name)
        if any(reading.remark not in known for reading in standing):
            return True
        for series in evidence.get("series", []):
            counts = [remark for remark in series.get("remarks", series["values"]) if remark != "struck"]
            if series["characteristic"] == name and counts and "method" in told and series.get("method") != told["method"]:
                return True
        for reading in measured_readings(specification, evidence, name, outside_marks=True):
            if "plausible" in told and reading.remark != "confirmed" and limits_of(told["plausible"]).margin(reading.value) < 0:
                return True
    return False


def measured_readings_of(specification: Document, evidence: Document, requirement: Document) -> Sequence[Reading]:
    """The readings of a measured characteristic, those outside the marks too; none of a derived one."""
    if "derived" in characteristic_of(specification, requirement["of"]):
        return []
    return measured_readings(specification, evidence, requirement["of"], outside_marks=True)


def each_with_breaks_outside_marks(
    specification: Document, evidence: Document, requirement: Document, readings: Sequence[Reading], shortage: Shortage
) -> Simple:
    """Each beside its lower limit, those that broke outside the marks beside a share of it; an upper one takes true forces."""
    limits = limits_of(requirement["limits"])
    if limits.upper is not None:
        return UNDECIDED._replace(missing=shortage.missing)
    share = exact(characteristic_of(specification, requirement["of"])["remarks"]["passes_outside_marks_at"]["percent"]) / 100
    shares = [share if reading.remark == "broke_outside_marks" else Fraction(1) for reading in readings]
    compared = [rounded(reading.value, requirement) for reading in readings]
    margins = [value - limits.lower * part for value, part in zip(compared, shares, strict=True) if limits.lower is not None]
    outer = limits_of(requirement["outer"]).lower if "outer" in requirement else None
    beyond = [value - outer * part for value, part in zip(compared, shares, strict=True) if outer is not None]
    allowed, outside = allowed_of(len(readings), requirement), sum(1 for margin in margins if margin < 0)
    is_counted = "count" in requirement.get("allowed_outside", {"count": 0})
    is_lost = any(margin < 0 for margin in beyond) or (is_counted and outside > allowed)
    if shortage.is_short and not is_lost:
        return UNDECIDED._replace(missing=shortage.missing)
    deciding = [*sorted(margins)[allowed : allowed + 1], *sorted(beyond)[:1]]
    if not deciding:
        return Simple("pass", (), None, outside, allowed)
    margin = min(deciding)
    measured = [
        reported(reading.value, requirement)
        for reading, one, other in zip(readings, margins, beyond or margins, strict=True)
        if margin in (one, other)
    ]
    return Simple("pass" if margin >= 0 else "fail", measured, float(margin), outside, allowed)


def is_lost(values: Sequence[Fraction], requirement: Document) -> bool:
    """Whether no further reading could save it: too many outside by count, one beyond `outer`, too wide a range."""
    if requirement.get("over", "readings") == "packages":
        return False
    if requirement["kind"] == "spread":
        return bool(requirement["statistic"] == "range" and spread(values, requirement).outcome == "fail")
    if requirement["kind"] != "each":
        return False
    compared = [rounded(value, requirement) for value in values]
    if "outer" in requirement and min(limits_of(requirement["outer"]).margin(value) for value in compared) < 0:
        return True
    limits = limits_of(requirement["limits"])
    outside = [value for value in compared if limits.margin(value) < 0]
    allowed = requirement.get("allowed_outside", {"count": 0})
    return "count" in allowed and len(outside) > allowed["count"]


def rounded(value: Fraction, requirement: Document) -> Fraction:
    """The value that is compared."""
    if "rounding" not in requirement:
        return value
    return to_step(value, exact(requirement["rounding"]["step"]), requirement["rounding"]["ties"])


def reported(value: Fraction, requirement: Document) -> tuple[float, float | None]:
    """The compared value as a double, and the observed one beside it where the requirement rounds."""
    return float(rounded(value, requirement)), float(value) if "rounding" in requirement else None


def each(values: Sequence[Fraction], requirement: Document) -> Simple:
    """At most so many outside, none beyond `outer`; the margin is that of the first one too many, or the worst to `outer`."""
    limits = limits_of(requirement["limits"])
    allowed = allowed_of(len(values), requirement)
    outside = sum(1 for value in values if limits.margin(rounded(value, requirement)) < 0)
    worst_first = sorted(limits.margin(rounded(value, requirement)) for value in values)
    margins: list[tuple[Fraction, Limits]] = []
    if allowed < len(values):
        margins.append((worst_first[allowed], limits))
    if "outer" in requirement:
        outer = limits_of(requirement["outer"])
        margins.append((min(outer.margin(rounded(value, requirement)) for value in values), outer))
    if not margins:
        return Simple("pass", (), None, outside, allowed)
    margin = min(each[0] for each in margins)
    giving = [bounds for distance, bounds in margins if distance == margin]
    measured = [
        reported(value, requirement)
        for value in values
        if any(bounds.margin(rounded(value, requirement)) == margin for bounds in giving)
    ]
    return Simple("pass" if margin >= 0 else "fail", measured, float(margin), outside, allowed)


def allowed_of(number: int, requirement: Document) -> int:
    """How many of so many values may be outside."""
    allowed = requirement.get("allowed_outside", {"count": 0})
    if "count" in allowed:
        return int(allowed["count"])
    return int(exact(allowed["percent"]) * number / 100)


def mean_of(values: Sequence[Fraction]) -> Fraction:
    """The arithmetic mean."""
    return sum(values, Fraction(0)) / len(values)


def variance_of(values: Sequence[Fraction]) -> Fraction:
    """The square of the standard deviation with n - 1."""
    mean = mean_of(values)
    return sum(((value - mean) ** 2 for value in values), Fraction(0)) / (len(values) - 1)


def mean(values: Sequence[Fraction], requirement: Document) -> Simple:
    """The mean is within the limits."""
    observed = mean_of(values)
    margin = limits_of(requirement["limits"]).margin(rounded(observed, requirement))
    return Simple("pass" if margin >= 0 else "fail", [reported(observed, requirement)], float(margin))


def spread(values: Sequence[Fraction], requirement: Document) -> Simple:
    """The statistic is not above `at_most`; a coefficient of variation needs a mean above zero."""
    if len(values) < 2:
        return UNDECIDED
    statistic = requirement["statistic"]
    if statistic == "range":
        return root_finding((max(values) - min(values)) ** 2, requirement)
    if statistic == "standard_deviation":
        return root_finding(variance_of(values), requirement)
    average = mean_of(values)
    if average <= 0:
        return UNDECIDED
    return root_finding(variance_of(values) / average**2 * 10000, requirement)


def root_finding(square: Fraction, requirement: Document) -> Simple:
    """A finding on a statistic whose square is given."""
    at_most = exact(requirement["at_most"])
    observed = root(square)
    if "rounding" not in requirement:
        margin = observed.double(lambda low_or_high: at_most - low_or_high)
        return Simple("pass" if square <= at_most**2 else "fail", [(observed.double(itself), None)], margin)
    value = root_to_step(square, exact(requirement["rounding"]["step"]), requirement["rounding"]["ties"])
    return Simple("pass" if value <= at_most else "fail", [(float(value), observed.double(itself))], float(at_most - value))


def itself(value: Fraction) -> Fraction:
    """The value."""
    return value


def variables(values: Sequence[Fraction], requirement: Document) -> Simple:
    """The smaller of (mean - L)/s and (U - mean)/s is at least k; without spread, the mean is within the limits."""
    if len(values) < 2:
        return UNDECIDED
    distance = limits_of(requirement["limits"]).margin(mean_of(values))
    variance = variance_of(values)
    if variance == 0:
        return Simple("pass" if distance >= 0 else "fail")
    k = exact(requirement["k"])
    sign = 1 if distance >= 0 else -1
    quality: Root = root(distance**2 / variance)
    conforms = distance >= 0 and distance**2 >= k**2 * variance
    margin = quality.double(lambda size: sign * size - k)
    return Simple("pass" if conforms else "fail", [(quality.double(lambda size: sign * size), None)], margin)


KINDS = {"each": each, "mean": mean, "spread": spread, "variables": variables}


def check_simply(specification: Document, check: Document) -> str:
    """The outcome of one reading: never a pass where no binding `each` over readings bears on the characteristic."""
    series = {**check, "values": [check["value"]]}
    outcomes = [
        check_one(values_of(specification, {"series": [series]}, requirement)[0], requirement)
        for requirement in specification["requirements"]
        if bears_on_one(requirement, check)
    ]
    if not outcomes:
        return "undecided"
    return next((worse for worse in ("fail", "undecided") if worse in outcomes), "pass")


def differences_simply(specification: Document, check: Document) -> dict[str, float | None]:
    """For each `mean` on the characteristic the margin that the reading would have by itself, by the requirement's id."""
    series = {**check, "values": [check["value"]]}
    return {
        requirement["id"]: mean(values_of(specification, {"series": [series]}, requirement), requirement).margin
        for requirement in specification["requirements"]
        if requirement["kind"] == "mean" and requirement["of"] == check["characteristic"]
    }


def bears_on_one(requirement: Document, check: Document) -> bool:
    """Whether a requirement decides about one reading by itself."""
    return (
        requirement["kind"] == "each"
        and requirement["of"] == check["characteristic"]
        and requirement.get("over", "readings") == "readings"
        and bool(requirement.get("binding", True))
    )


def check_one(value: Fraction, requirement: Document) -> str:
    """Within is a pass; beyond `outer`, or outside limits that allow none, a failure; else others must say."""
    compared = rounded(value, requirement)
    if "outer" in requirement and limits_of(requirement["outer"]).margin(compared) < 0:
        return "fail"
    if limits_of(requirement["limits"]).margin(compared) >= 0:
        return "pass"
    allowed = requirement.get("allowed_outside", {"count": 0})
    return "undecided" if allowed.get("count", 0) or allowed.get("percent", 0) else "fail"
