"""The verdict document: the outcome of a lot, its findings and their reasons; and the answer to a check."""

from collections.abc import Iterable, Mapping, Sequence
from enum import StrEnum

from msgspec import UNSET, Struct, UnsetType, field

from service.engine import ENGINE

Numeral = int | float
"""A number in a document; whole numbers of a grade are written without a decimal point."""
FORMAT = 1
MOST_POINTERS = 20
"""The most places in the evidence that a reason names; `at_total` has the number of all."""


class Outcome(StrEnum):
    """The outcome of a finding or a verdict; `undecided` where the evidence does not suffice to decide."""

    PASS = "pass"  # noqa: S105  an outcome, not a password
    FAIL = "fail"
    UNDECIDED = "undecided"


# `fail` is first: what is undecided can't rescue a lot that fails another binding requirement.
IN_ORDER = (Outcome.FAIL, Outcome.UNDECIDED)
"""The lot's outcome is the first of these that a binding finding has, else `pass`."""


# Structs of a verdict have gc=False: a verdict is a tree, which reference counting alone frees, so that the garbage
# collector need not track its many small parts. None of them may ever come to refer to itself.


class ResolvedLimits(Struct, frozen=True, gc=False):
    """The limits that a value was compared with, in `unit`, tolerances resolved; members that do not apply are left out."""

    lower: Numeral | UnsetType = UNSET
    upper: Numeral | UnsetType = UNSET
    nominal: Numeral | UnsetType = UNSET
    at_most: Numeral | UnsetType = UNSET
    k: Numeral | UnsetType = UNSET
    outer: "ResolvedLimits | UnsetType" = UNSET
    unit: str | UnsetType = UNSET
    above: Numeral | UnsetType = UNSET
    """A lower limit that excludes its own value."""
    below: Numeral | UnsetType = UNSET
    """An upper limit that excludes its own value."""
    worked_out: "Sequence[WorkedOut] | UnsetType" = UNSET
    """What the limits that depend on the lot were calculated from."""
    acceptance: "ResolvedLimits | UnsetType" = UNSET
    """The limits moved inwards by the guard band; a value within them is accepted."""
    rejection: "ResolvedLimits | UnsetType" = UNSET
    """The limits moved outwards by the guard band; a value beyond them is rejected."""
    accept: int | UnsetType = UNSET
    """Ac, the largest number nonconforming that accepts; left out for a first sample that can't accept."""
    reject: int | UnsetType = UNSET
    """Re, the smallest number nonconforming that rejects."""


class WorkedOut(Struct, frozen=True, kw_only=True, gc=False):
    """What a limit was calculated from: the mean or the declared number of a characteristic, or another limit."""

    side: str
    """`lower` or `upper`."""
    statistic: str
    """`mean`, `declared` or `limit`."""
    characteristic: str | UnsetType = UNSET
    requirement: str | UnsetType = UNSET
    value: Numeral
    unit: str
    at: Sequence[str] | UnsetType = UNSET
    """JSON Pointers into the evidence."""


class MeasuredValue(Struct, frozen=True, kw_only=True, gc=False):
    """The value that was compared, and the number of readings and packages that it is of."""

    statistic: str
    value: Numeral | UnsetType = UNSET
    """Left out where all values may be outside, so that none can make the requirement fail."""
    unit: str
    observed: Numeral | UnsetType = UNSET
    """The value before rounding, where the requirement rounds."""
    readings: int | UnsetType = UNSET
    packages: int | UnsetType = UNSET
    outside: int | UnsetType = UNSET
    allowed: int | UnsetType = UNSET
    conformity_probability: float | UnsetType = UNSET
    """For a guarded decision, the probability that the true value is within the limits, to six decimals."""
    formula: str | UnsetType = UNSET
    """The formula of the value, where it is at an agreed regain."""
    source: str | UnsetType = UNSET
    """The source of the agreed regain."""


class Missing(Struct, frozen=True, kw_only=True, gc=False):
    """What the sample still lacks: packages to complete, to draw or to inspect for a class.

    For a characteristic also the least number of readings.
    """

    characteristic: str | UnsetType = UNSET
    packages: int
    readings: int | UnsetType = UNSET
    class_: str | UnsetType = field(default=UNSET, name="class")


class Reason(Struct, frozen=True, gc=False):
    """Why a finding has its outcome: a stable code with parameters, a sentence, the rule, and the evidence concerned."""

    code: str
    text: str
    with_: Mapping[str, object] = field(name="with")
    rule: str
    """JSON Pointer into the specification."""
    at: Sequence[str]
    """The first 20 JSON Pointers into the evidence, in the order of the document."""
    at_total: int


class GivenAway(Struct, frozen=True, kw_only=True, gc=False):
    """The content of packages in excess of the nominal content; negative where they contain less."""

    per_package: float
    """The mean content minus the nominal content."""
    per_lot: float | UnsetType = UNSET
    """`per_package` times the size of the lot, where that is given."""
    unit: str
    set_point: float | UnsetType = UNSET
    """The mean at which each check of the rule would be met with the probability that the grade asks for, at the spread of this
    lot; a normal approximation to six significant digits, never used to decide."""


class Finding(Struct, frozen=True, kw_only=True, gc=False):
    """The outcome of one requirement with its reasons, also where it passes."""

    requirement: str
    kind: str
    characteristic: str | UnsetType = UNSET
    """For a requirement on a characteristic."""
    class_: str | UnsetType = field(default=UNSET, name="class")
    """For a requirement that counts a class."""
    binding: bool
    outcome: Outcome
    clause: str | UnsetType = UNSET
    measured: MeasuredValue | UnsetType = UNSET
    limits: ResolvedLimits | UnsetType = UNSET
    # On a limit that excludes its own value the margin is 0 and the finding fails: the one case its sign does not tell.
    margin: float | UnsetType = UNSET
    """Distance from the nearest limit in its unit, negative outside; a decided finding passes exactly if it is not negative."""
    missing: Sequence[Missing] | UnsetType = UNSET
    given_away: GivenAway | UnsetType = UNSET
    """For a requirement on net contents."""
    reasons: Sequence[Reason]


class Verdict(Struct, frozen=True, kw_only=True, gc=False):
    """The outcome of a lot with its findings; repeatable, as it follows from specification, evidence and rules alone."""

    # No time, id or host: the same specification and evidence give the same bytes, which a replay compares.
    format: int = FORMAT
    engine: str = ENGINE
    outcome: Outcome
    grade: str | UnsetType = UNSET
    revision: int | UnsetType = UNSET
    lot: str
    specification: str
    evidence: str
    findings: Sequence[Finding]


class WithOthers(Struct, frozen=True, gc=False):
    """A requirement on means, which one reading can't decide, and the distance of the reading from its limits."""

    requirement: str
    kind: str
    limits: ResolvedLimits
    difference: float
    """The margin that the reading would have if it were the mean."""


class CheckAnswer(Struct, frozen=True, kw_only=True, gc=False):
    """The outcome of checking one reading; never `pass` where the grade puts no limit on a single reading."""

    format: int = FORMAT
    engine: str = ENGINE
    outcome: Outcome
    grade: str | UnsetType = UNSET
    revision: int | UnsetType = UNSET
    lot: str | UnsetType = UNSET
    """The lot that the check named; its readings already outside the limits have been counted."""
    characteristic: str
    specification: str
    findings: Sequence[Finding]
    with_others: Sequence[WithOthers]
    reasons: Sequence[Reason] | UnsetType = UNSET
    """Only where no requirement puts a limit on a single reading, or where the reading can't be used as sent."""


def outcome_of(findings: Iterable[Finding]) -> Outcome:
    """The outcome of a lot: `fail` if a binding finding fails, else `undecided` if one is undecided, else `pass`."""
    binding = [finding.outcome for finding in findings if finding.binding]
    for outcome in IN_ORDER:
        if outcome in binding:
            return outcome
    return Outcome.PASS
