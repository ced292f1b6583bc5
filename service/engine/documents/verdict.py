"""The verdict document: the outcome of a lot, its findings, and the reasons for each of them."""

from collections.abc import Iterable, Mapping, Sequence
from enum import StrEnum

from msgspec import UNSET, Struct, UnsetType, field

from service.engine import ENGINE

Numeral = int | float
"""A number in a document: whole ones that a grade wrote stay whole."""
FORMAT = 1
MOST_POINTERS = 20
"""A reason names at most so many places in the evidence; `at_total` tells how many there are."""


class Outcome(StrEnum):
    """Of a finding and of a verdict. `undecided` is an answer: the evidence does not suffice to say."""

    PASS = "pass"  # noqa: S105  an outcome, not a password
    FAIL = "fail"
    UNDECIDED = "undecided"


IN_ORDER = (Outcome.FAIL, Outcome.UNDECIDED)
"""The first of these that a binding finding has is the lot's; else it passes."""


class ResolvedLimits(Struct, frozen=True, gc=False):
    """Limits as they were compared: tolerances worked out, in the unit given; what does not apply is left out."""

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
    """What the limits that depend on the lot come from."""
    acceptance: "ResolvedLimits | UnsetType" = UNSET
    """The limits drawn in by the guard band, within which a value is accepted."""
    rejection: "ResolvedLimits | UnsetType" = UNSET
    """The limits pushed out by the guard band, beyond which a value is rejected."""
    accept: int | UnsetType = UNSET
    """So many nonconforming ones at most accept; left out of a first sample that can't accept."""
    reject: int | UnsetType = UNSET
    """So many at least reject."""


class WorkedOut(Struct, frozen=True, kw_only=True, gc=False):
    """What a limit was worked out from: the mean or the declared number of a characteristic, or another limit."""

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
    """The value that was compared, and how many readings and packages stand behind it."""

    statistic: str
    value: Numeral | UnsetType = UNSET
    """Left out where no value can make the requirement fail, as all of them may be outside."""
    unit: str
    observed: Numeral | UnsetType = UNSET
    """The value before rounding, where the requirement rounds."""
    readings: int | UnsetType = UNSET
    packages: int | UnsetType = UNSET
    outside: int | UnsetType = UNSET
    allowed: int | UnsetType = UNSET
    conformity_probability: float | UnsetType = UNSET
    """Of a guarded decision: how probable it is that the true value is within the limits, to six decimals."""
    formula: str | UnsetType = UNSET
    """How it was worked out, where an agreed regain went into it."""
    source: str | UnsetType = UNSET
    """Where that regain is from."""


class Missing(Struct, frozen=True, kw_only=True, gc=False):
    """What the sample still lacks: so many packages to complete, to draw anew or to look over for a class.

    Of a characteristic, at least so many readings too.
    """

    characteristic: str | UnsetType = UNSET
    packages: int
    readings: int | UnsetType = UNSET
    class_: str | UnsetType = field(default=UNSET, name="class")


class Reason(Struct, frozen=True, gc=False):
    """Why a finding has its outcome: a stable code with its parameters, a sentence, the rule, and what it rests on."""

    code: str
    text: str
    with_: Mapping[str, object] = field(name="with")
    rule: str
    """JSON Pointer into the specification."""
    at: Sequence[str]
    """JSON Pointers into the evidence, in the order of the document, the first 20."""
    at_total: int


class GivenAway(Struct, frozen=True, kw_only=True, gc=False):
    """What packages hold above their nominal content; negative where they hold less."""

    per_package: float
    """The mean less the nominal content."""
    per_lot: float | UnsetType = UNSET
    """That times the size of the lot, where it is told."""
    unit: str
    set_point: float | UnsetType = UNSET
    """The mean that would meet each check of the rule with the chance that the grade asks for, at today's spread; a normal
    approximation to six significant digits, which decides nothing."""


class Finding(Struct, frozen=True, kw_only=True, gc=False):
    """The outcome of one requirement, with reasons, the passing ones too."""

    requirement: str
    kind: str
    characteristic: str | UnsetType = UNSET
    """Of a requirement that is put on one."""
    class_: str | UnsetType = field(default=UNSET, name="class")
    """Of a requirement that counts a class."""
    binding: bool
    outcome: Outcome
    clause: str | UnsetType = UNSET
    measured: MeasuredValue | UnsetType = UNSET
    limits: ResolvedLimits | UnsetType = UNSET
    margin: float | UnsetType = UNSET
    """Distance from the nearest limit in its unit, negative outside; a decided finding passes exactly if it is not negative."""
    missing: Sequence[Missing] | UnsetType = UNSET
    given_away: GivenAway | UnsetType = UNSET
    """Of a net content."""
    reasons: Sequence[Reason]


class Verdict(Struct, frozen=True, kw_only=True, gc=False):
    """The outcome of a lot, repeatable: nothing in it but what the specification, the evidence and the rules give."""

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
    """A requirement on means, which one reading cannot decide, and where the reading would lie by itself."""

    requirement: str
    kind: str
    limits: ResolvedLimits
    difference: float
    """The margin that the reading by itself would have."""


class CheckAnswer(Struct, frozen=True, kw_only=True, gc=False):
    """What one reading comes to: never a pass where the grade puts no limit on a single reading."""

    format: int = FORMAT
    engine: str = ENGINE
    outcome: Outcome
    grade: str | UnsetType = UNSET
    revision: int | UnsetType = UNSET
    lot: str | UnsetType = UNSET
    """Where the check named one: what is outside in it already has been counted."""
    characteristic: str
    specification: str
    findings: Sequence[Finding]
    with_others: Sequence[WithOthers]
    reasons: Sequence[Reason] | UnsetType = UNSET
    """Only where no requirement puts a limit on a single reading, or where the reading can't be taken as it stands."""


def outcome_of(findings: Iterable[Finding]) -> Outcome:
    """Fails if a binding finding fails, else undecided if one is undecided, else passes."""
    binding = [finding.outcome for finding in findings if finding.binding]
    for outcome in IN_ORDER:
        if outcome in binding:
            return outcome
    return Outcome.PASS
