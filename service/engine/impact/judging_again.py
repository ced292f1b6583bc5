"""Lots judged again by a revision, a portion at a time, and compared with the verdicts that they have.

`judge_again` is a pure function of bytes, so any process on any machine gives the same result.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import lru_cache

import msgspec
from msgspec import UNSET, Struct

from service.engine import ENGINE
from service.engine.documents import Evidence, FlawedDocumentError, Outcome, Verdict
from service.engine.grade import CompiledGrade, Specification, compile_specification
from service.engine.impact.documents import LotImpact, RequirementImpact
from service.engine.impact.tallying import Tally
from service.engine.judging import judge

MOST_FLAWS = 10
"""The most flaws reported of a lot; a revision that lacks a characteristic finds some in every lot."""
REVISIONS_HELD = 4
"""The most compiled revisions cached in a process."""


class JudgedLot(Struct, frozen=True, kw_only=True):
    """A lot with its newest verdict and the evidence of that verdict, both as stored, JSON."""

    lot: str
    number: int
    """Number of the verdict."""
    evidence: bytes
    verdict: bytes


class Portion(Struct, frozen=True):
    """The unit of work: lots, and the specification by which to judge them."""

    # Bytes, not a compiled grade: they are pickled for another process, and compiled there once.
    specification: bytes
    """JSON of the revision's specification."""
    lots: Sequence[JudgedLot]


class ImpactOfPortion(Struct, frozen=True):
    """The result of a portion."""

    changed: list[LotImpact]
    """The changed lots, in the order of the portion."""
    tally: Tally
    engine: str = ENGINE
    """Number of the rules by which the worker judged; the caller refuses another number than its own."""


class StoredFinding(Struct, frozen=True):
    """The members of a stored finding that are compared."""

    requirement: str
    binding: bool
    outcome: Outcome


class StoredVerdict(Struct, frozen=True):
    """The members of a stored verdict that are compared; the others are not decoded."""

    outcome: Outcome
    findings: list[StoredFinding]


_then = msgspec.json.Decoder(StoredVerdict).decode
_evidence = msgspec.json.Decoder(Evidence).decode


def judge_again(portion: Portion) -> ImpactOfPortion:
    """Judge the lots of a portion by its specification, and compare.

    Raises FlawedDocumentError where the specification has flaws, which that of a revision never has.
    """
    compiled = _compiled(portion.specification)
    changed, tally = list[LotImpact](), Tally()
    for lot in portion.lots:
        if impact := _impact_on(compiled, lot, tally):
            changed.append(impact)
    return ImpactOfPortion(changed, tally)


@lru_cache(maxsize=REVISIONS_HELD)
def _compiled(specification: bytes) -> CompiledGrade:
    """The compiled specification."""
    # A process judges many portions of one revision, so it compiles once, at the first of them.
    return compile_specification(msgspec.json.decode(specification, type=Specification))


def _impact_on(compiled: CompiledGrade, lot: JudgedLot, tally: Tally) -> LotImpact | None:
    """The impact on a lot that would change, else None. The lot is added to the tally in both cases."""
    then = _then(lot.verdict)
    try:
        now = judge(compiled, _evidence(lot.evidence))
    except FlawedDocumentError as error:
        tally.add_flawed()
        # A lot that can no longer be judged counts as changed, whatever its verdict was.
        more = len(error.flaws) - MOST_FLAWS
        return LotImpact(
            lot=lot.lot,
            verdict=lot.number,
            then=then.outcome,
            flaws=list(error.flaws[:MOST_FLAWS]),
            more_flaws=more if more > 0 else UNSET,
        )
    before, after = _by_name(then.findings), _findings_of(now)
    differences = list(_differences(before, after))
    is_changed = then.outcome != now.outcome or any(map(_changes_lot, differences))
    outcomes = {name: (_outcome(before, name), _outcome(after, name)) for name in [*after, *before]}
    tally.add(then.outcome, now.outcome, outcomes, is_changed=is_changed)
    if not is_changed:
        return None
    return LotImpact(lot=lot.lot, verdict=lot.number, then=then.outcome, now=now.outcome, requirements=differences)


def _findings_of(verdict: Verdict) -> dict[str, StoredFinding]:
    return _by_name(StoredFinding(each.requirement, each.binding, each.outcome) for each in verdict.findings)


def _by_name(findings: Iterable[StoredFinding]) -> dict[str, StoredFinding]:
    return {each.requirement: each for each in findings}


def _outcome(findings: Mapping[str, StoredFinding], name: str) -> Outcome | None:
    return findings[name].outcome if name in findings else None


def _differences(before: Mapping[str, StoredFinding], after: Mapping[str, StoredFinding]) -> Iterator[RequirementImpact]:
    """The differences, requirement by requirement: in the order of the revision, then those that only the verdict has."""
    for name, now in after.items():
        then = before.get(name)
        if then is None:
            yield RequirementImpact(requirement=name, now=now.outcome)
        elif then.binding != now.binding:
            yield RequirementImpact(
                requirement=name, then=then.outcome, now=now.outcome, binding_then=then.binding, binding_now=now.binding
            )
        elif then.outcome != now.outcome:
            yield RequirementImpact(requirement=name, then=then.outcome, now=now.outcome)
    yield from (RequirementImpact(requirement=name, then=then.outcome) for name, then in before.items() if name not in after)


def _changes_lot(difference: RequirementImpact) -> bool:
    """True where a difference makes the lot count as changed."""
    # A requirement that only one side has does so only where the lot does not pass it; otherwise one more requirement would
    # change every lot. A difference in binding alone shows in the outcome of the lot, if anywhere.
    sides = {difference.then or Outcome.PASS, difference.now or Outcome.PASS}
    return len(sides) > 1
