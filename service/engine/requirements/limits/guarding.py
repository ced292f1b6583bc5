"""Guarded decisions: limits moved inwards or outwards by the expanded uncertainty of the measured value.

A value y with the uncertainty U is certainly accepted where y − U and y + U are within the limits, and certainly rejected
where y + U is below the lower limit or y − U above the upper one. U is a number in the characteristic's unit, or a share p of
the value itself; then y − p·y ≥ L is y ≥ L/(1 − p), so either way the guarded limits do not depend on the value. U is that of
the value that is compared: for a mean, that of one reading is used and not divided by √n.
Source: JCGM 106:2012, 8.2 and 8.3; ILAC-G8:09/2019, 4.2. That a value exactly on a guarded limit is accepted, or not
rejected, is a decision of this project: the texts do not mention equality.
"""

from collections.abc import Iterator
from fractions import Fraction
from math import erfc, sqrt

from msgspec import UNSET, Struct, UnsetType

from service.engine.characteristics import Bounds, ExpandedUncertainty, LimitSide, expanded_of, uncertainty_flaws
from service.engine.documents import Flaw, Outcome
from service.engine.numbers import brief, decimals_shown, reported, with_unit
from service.engine.requirements.documents import Decision

ACCEPTANCE, REJECTION = -1, 1
"""The way limits are moved: inwards to accept, outwards to reject."""
PROBABILITY_DECIMALS = 6
"""Decimals of a reported probability: more than any uncertainty is known to."""


class Guard(Struct, frozen=True):
    """How a compiled requirement accounts for uncertainty."""

    pointer: str
    """`/requirements/0/decision`"""
    rejects_guarded: bool
    """True for guarded rejection, where a value within the unmoved limits is accepted."""
    uncertainty: ExpandedUncertainty | None
    """The uncertainty that the grade states; None where every series has to state its own."""
    between: Outcome


def guard_of(decision: Decision | UnsetType, pointer: str) -> Guard | None:
    """The compiled decision rule of a document without flaws; None for simple acceptance."""
    if isinstance(decision, UnsetType) or decision.rule == "simple":
        return None
    return Guard(
        pointer=f"{pointer}/decision",
        rejects_guarded=decision.rule == "guarded_rejection",
        uncertainty=expanded_of(decision.uncertainty, Fraction(1)) if decision.uncertainty else None,
        between=Outcome(decision.between or Outcome.UNDECIDED),
    )


def guarded(bounds: Bounds, expanded: ExpandedUncertainty, way: int) -> Bounds:
    """The acceptance limits or the rejection limits, by `way`: ACCEPTANCE or REJECTION."""
    lower, upper = (_moved(side, expanded, way) if side else None for side in (bounds.lower, bounds.upper))
    return Bounds(lower, upper, bounds.nominal)


def _moved(side: LimitSide, expanded: ExpandedUncertainty, way: int) -> LimitSide:
    inward = -way if side.name == "lower" else way
    limit = _shifted_by_uncertainty(side.limit, expanded, inward)
    word = "acceptance" if way == ACCEPTANCE else "rejection"
    moved = "moved in" if way == ACCEPTANCE else "moved out"
    shown = with_unit(brief(limit), side.unit)
    words = f"the {side.name} {word} limit of {shown}, {moved} from {with_unit(brief(side.limit), side.unit)}"
    return LimitSide(side.name, limit, side.pointer, reported(limit), side.unit, words, decimals_shown(limit), side.excludes)


def _shifted_by_uncertainty(limit: Fraction, expanded: ExpandedUncertainty, by: int) -> Fraction:
    """The limit moved up (`by` 1) or down (-1) by the uncertainty of a value at the moved limit, exactly."""
    if expanded.share == 0:
        return limit + by * expanded.absolute
    # The value v at a distance of p·|v| from the limit. Moved up, v is limit/(1 − p) where positive, limit/(1 + p) where not.
    return limit / (1 - by * expanded.share * (1 if limit >= 0 else -1))


def conformity(bounds: Bounds, expanded: ExpandedUncertainty, value: float) -> float:
    """The probability that the true value is within the limits, by a normal distribution around the measured value.

    Rounded to six decimals; reported, never decided by. Source: JCGM 106:2012, 7.2: Φ((U − y)/u) − Φ((L − y)/u).
    """
    standard = expanded.standard(value)
    if standard == 0:
        is_within = all(side.margin(Fraction(value)) >= 0 for side in bounds.sides)
        return 1.0 if is_within else 0.0
    # One tail for each side that is bounded, so an open side needs no infinite limit.
    beyond = sum(_tail(-float(side.margin(Fraction(value))) / standard) for side in bounds.sides)
    return round(max(0.0, 1 - beyond), PROBABILITY_DECIMALS)


def _tail(z: float) -> float:
    """Φ(z), the distribution function of the standard normal distribution."""
    return erfc(-z / sqrt(2)) / 2


def decision_flaws(decision: Decision | UnsetType, at: str) -> Iterator[Flaw]:
    """The flaws of a decision rule."""
    if isinstance(decision, UnsetType):
        return
    if decision.rule == "simple":
        for name in ("uncertainty", "between"):
            if getattr(decision, name) is not UNSET:
                text = f"Simple acceptance does not use `{name}`. Remove it, or choose a guarded rule."
                yield Flaw("only-with-guard", text, f"{at}/{name}")
    elif not isinstance(decision.uncertainty, UnsetType):
        yield from uncertainty_flaws(decision.uncertainty, f"{at}/uncertainty")


def decision_not_here(decision: Decision | UnsetType, kind: str, at: str) -> Iterator[Flaw]:
    """The flaw of a guarded decision on a kind that does not compare a measured value with limits."""
    if not isinstance(decision, UnsetType) and decision.rule != "simple":
        text = f"A guarded decision is for a value with limits, and `{kind}` judges something else. Remove `decision`."
        yield Flaw("decision-not-here", text, f"{at}/decision")
