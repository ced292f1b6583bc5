"""Lots that are judged again, a portion at a time, beside the verdicts that they have.

`weigh` is a pure function of bytes: it is done in whichever process or on whichever machine, and gives the same.
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
"""Of a lot; a revision that lacks a characteristic has them in each lot."""
REVISIONS_HELD = 4
"""Compiled in one process."""


class JudgedLot(Struct, frozen=True, kw_only=True):
    """A lot with its newest verdict, both documents as they are kept."""

    lot: str
    number: int
    """Of the verdict."""
    evidence: bytes
    verdict: bytes


class Portion(Struct, frozen=True):
    """The unit of work: lots, and the specification to judge them by."""

    specification: bytes
    lots: Sequence[JudgedLot]


class ImpactOfPortion(Struct, frozen=True):
    """What a portion comes to."""

    changed: list[LotImpact]
    """In the portion's order."""
    tally: Tally
    engine: str = ENGINE
    """By which rules it was judged."""


class StoredFinding(Struct, frozen=True):
    """What a verdict says of one requirement."""

    requirement: str
    binding: bool
    outcome: Outcome


class StoredVerdict(Struct, frozen=True):
    """What is looked at of a verdict that is kept."""

    outcome: Outcome
    findings: list[StoredFinding]


_then = msgspec.json.Decoder(StoredVerdict).decode
_evidence = msgspec.json.Decoder(Evidence).decode


def judge_again(portion: Portion) -> ImpactOfPortion:
    """Judge the lots by the specification, and compare. The specification has no flaws, as no revision has."""
    compiled = _compiled(portion.specification)
    changed, tally = list[LotImpact](), Tally()
    for lot in portion.lots:
        if impact := _weighed(compiled, lot, tally):
            changed.append(impact)
    return ImpactOfPortion(changed, tally)


@lru_cache(maxsize=REVISIONS_HELD)
def _compiled(specification: bytes) -> CompiledGrade:
    """Once in each process, however many portions it does."""
    return compile_specification(msgspec.json.decode(specification, type=Specification))


def _weighed(compiled: CompiledGrade, lot: JudgedLot, tally: Tally) -> LotImpact | None:
    """The lot where it would come out otherwise; it is counted in any case."""
    then = _then(lot.verdict)
    try:
        now = judge(compiled, _evidence(lot.evidence))
    except FlawedDocumentError as error:
        tally.add_flawed()
        more = len(error.flaws) - MOST_FLAWS
        return LotImpact(
            lot=lot.lot,
            verdict=lot.number,
            then=then.outcome,
            flaws=list(error.flaws[:MOST_FLAWS]),
            more_flaws=more if more > 0 else UNSET,
        )
    before, after = _by_name(then.findings), _of(now)
    differences = list(_differences(before, after))
    is_changed = then.outcome != now.outcome or any(map(_matters, differences))
    outcomes = {name: (_outcome(before, name), _outcome(after, name)) for name in [*after, *before]}
    tally.add(then.outcome, now.outcome, outcomes, is_changed=is_changed)
    if not is_changed:
        return None
    return LotImpact(lot=lot.lot, verdict=lot.number, then=then.outcome, now=now.outcome, requirements=differences)


def _of(verdict: Verdict) -> dict[str, StoredFinding]:
    return _by_name(StoredFinding(each.requirement, each.binding, each.outcome) for each in verdict.findings)


def _by_name(findings: Iterable[StoredFinding]) -> dict[str, StoredFinding]:
    return {each.requirement: each for each in findings}


def _outcome(findings: Mapping[str, StoredFinding], name: str) -> Outcome | None:
    return findings[name].outcome if name in findings else None


def _differences(before: Mapping[str, StoredFinding], after: Mapping[str, StoredFinding]) -> Iterator[RequirementImpact]:
    """Requirement by requirement: the revision's own, in its order, then those that it has not."""
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


def _matters(difference: RequirementImpact) -> bool:
    """A requirement that only one side has changes nothing for a lot that passes it."""
    sides = {difference.then or Outcome.PASS, difference.now or Outcome.PASS}
    return len(sides) > 1
