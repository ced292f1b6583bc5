"""Answers to readings that are within every limit, written ahead: all but the figures stands ready, as bytes.

Most of what a station checks is in, and then nothing but a few figures differs from one answer to the next. Whatever is not
plainly in (on a limit, outside, of more than three decimals, a figure that needs more decimals to tell its side) is answered by
`checking`, and a test holds the bytes of both ways together. The judgement is exact here too: a comparison of integers.
"""

from collections.abc import Sequence
from itertools import product
from typing import NamedTuple

import msgspec
from msgspec import UNSET, Struct, UnsetType
from msgspec.structs import replace

from service.engine.blanks import FIGURE, blanked, template
from service.engine.bounds import Bounds, Side
from service.engine.characteristics import NO_PRECAUTIONS
from service.engine.checking import judge_reading
from service.engine.compilation import CompiledGrade
from service.engine.evidence import Check
from service.engine.figures import Figures
from service.engine.numerals import SAFE, SHORT
from service.engine.prepared.passed import Passed
from service.engine.reading_plans import ReadingPlan
from service.engine.requirements.each import EachRule
from service.engine.verdict import CheckAnswer, Finding, MeasuredValue, Outcome, Reason, WithOthers

MOST_SIDES = 16
"""So many ways in which a reading may lie nearest to lower or upper limits are prepared at most."""
_encode = msgspec.json.Encoder().encode
Signs = tuple[int, ...]
"""Of each requirement that limits a single reading, the sign of the limit that is nearer."""


class Edge(NamedTuple):
    """A limit beside readings in one unit, as integers: all that `Side` and `Figures` say, worked out as far as it goes."""

    sign: int
    """1 of a lower limit, -1 of an upper one."""
    rise: int
    limit: int
    parts: int
    """So many thousandths t are (rise · t - limit) / parts inside the limit, in the characteristic's unit."""
    shown: int
    """A reading is shown as the nearest whole number to shown · t / denominator, of `scale` parts each."""
    scale: int
    scaled: int
    """The limit as it is shown."""


class PreparedAnswers(Struct, frozen=True):
    """The answers to readings of one characteristic in one unit, under one code and revision."""

    numerator: int
    denominator: int
    """So many thousandths t are numerator · t / denominator in the characteristic's unit."""
    single: Sequence[Sequence[Edge]]
    """The limits of each requirement that limits a single reading, the lower first."""
    others: Sequence[Sequence[Edge]]
    """Those of each one on means."""
    templates: dict[Signs, bytes]

    def of(self, reading: float) -> bytes | None:
        """The answer, where the reading is plainly within every limit; else None."""
        thousandths = round(reading * SHORT)
        # So it is within what may be sent, too.
        if thousandths / SHORT != reading or not 0 < thousandths < SAFE:
            return None
        denominator = self.denominator
        value = _encode(self.numerator * thousandths / denominator)
        signs: Signs = ()
        filled: tuple[bytes | int, ...] = ()
        for edges in self.single:
            sign, rise, limit, parts, of_shown, scale, scaled = edges[0] if len(edges) == 1 else _nearest(edges, thousandths)
            apart = rise * thousandths - limit
            shown = _rounded(of_shown * thousandths, denominator)
            by = sign * (shown - scaled)
            if apart <= 0 or by <= 0:
                return None
            margin = _encode(apart / parts)
            signs += (sign,)
            filled += (value, margin, *divmod(shown, scale), *divmod(by, scale), value, margin)
        for edges in self.others:
            edge = edges[0] if len(edges) == 1 else _nearest(edges, thousandths)
            filled += (_encode((edge.rise * thousandths - edge.limit) / edge.parts),)
        return self.templates[signs] % filled


def answer_to(grade: CompiledGrade, check: Check, revision: int | UnsetType = UNSET) -> CheckAnswer | Passed:
    """What `judge_reading` says, ready as bytes where it can be. Raises FlawedDocumentError as that does."""
    return _passed(grade, check, revision) or judge_reading(grade, check, revision)


def _passed(grade: CompiledGrade, check: Check, revision: int | UnsetType) -> Passed | None:
    """The answer where it stands ready and is a pass; None where each figure has to be looked at."""
    key = (check.characteristic, check.unit, check.grade, revision)
    prepared = grade.prepared.get(key, UNSET)
    if prepared is UNSET:
        plan = grade.plans.get((check.characteristic, check.unit))
        if plan is None:
            return None
        prepared = grade.prepared[key] = _prepared(grade, plan, check, revision) if _can_be(plan) else None
    document = prepared.of(check.value) if prepared else None
    return Passed(document) if document else None


def _nearest(edges: Sequence[Edge], thousandths: int) -> Edge:
    """The limit nearest to a reading, or farthest beyond; the lower of two alike."""
    lower, upper = edges
    above_lower, below_upper = lower.rise * thousandths - lower.limit, upper.rise * thousandths - upper.limit
    return lower if above_lower * upper.parts <= below_upper * lower.parts else upper


def _rounded(numerator: int, denominator: int) -> int:
    """The nearest whole number, of two alike the even one: as `Figures.beside_ratio` shows a value."""
    shown, rest = divmod(numerator, denominator)
    if rest and (2 * rest > denominator or (2 * rest == denominator and shown & 1)):
        shown += 1
    return shown


def _can_be(plan: ReadingPlan) -> bool:
    """Whether nothing but figures differs between its answers."""
    of, others = plan.of, plan.others
    return (
        plan.undecided is UNSET
        and of.precautions is NO_PRECAUTIONS
        and of.quantity != "count"
        and not plan.turned_round
        and not of.derived
        and not any(each.limits or each.guard or each.rounding for each in plan.single)
        and not any(each.rounding for each in others)
        and 2 ** len(plan.single) <= MOST_SIDES
    )


def _prepared(grade: CompiledGrade, plan: ReadingPlan, check: Check, revision: int | UnsetType) -> PreparedAnswers:
    """Written from an answer of the ordinary way, whose figures are taken out."""
    answer = judge_reading(grade, check, revision)
    ways = product(*(each.bounds.sides for each in plan.single))
    factor = plan.factor or 1
    numerator, denominator = factor.numerator, SHORT * factor.denominator
    return PreparedAnswers(
        numerator=numerator,
        denominator=denominator,
        single=[_edges(each.bounds, numerator, denominator) for each in plan.single],
        others=[_edges(each.bounds, numerator, denominator) for each in plan.others],
        templates={tuple(map(_sign, sides)): _template(plan, answer, sides) for sides in ways},
    )


def _edges(bounds: Bounds, numerator: int, denominator: int) -> Sequence[Edge]:
    """Its limits, the lower first, beside readings of which t thousandths are numerator · t / denominator."""
    return [_edge(side, side.figures, numerator, denominator) for side in bounds.sides if side.figures]


def _edge(side: Side, figures: Figures, numerator: int, denominator: int) -> Edge:
    sign, limit = _sign(side), side.limit
    return Edge(
        sign=sign,
        rise=sign * numerator * limit.denominator,
        limit=sign * limit.numerator * denominator,
        parts=denominator * limit.denominator,
        shown=numerator * figures.scale,
        scale=figures.scale,
        scaled=figures.scaled,
    )


def _sign(side: Side) -> int:
    return 1 if side.name == "lower" else -1


def _template(plan: ReadingPlan, answer: CheckAnswer, sides: Sequence[Side]) -> bytes:
    """The answer for values nearest to these sides, to be filled in by `%`."""
    findings = [_finding(rule, side) for rule, side in zip(plan.single, sides, strict=True)]
    others = [WithOthers(each.requirement, each.kind, each.limits, FIGURE) for each in answer.with_others]
    document = replace(answer, outcome=Outcome.PASS, findings=findings, with_others=others, reasons=UNSET)
    return template(document)


def _finding(rule: EachRule, side: Side) -> Finding:
    """A finding that passes, without its figures."""
    figures = side.figures
    assert figures
    where = blanked(figures.above if side.name == "lower" else figures.below)
    text = f"This {rule.of.words}, {blanked(figures.form)}, {where}."
    parameters: dict[str, object] = {"value": FIGURE, "limit": side.reported, "unit": side.unit, "by": FIGURE}
    reason = Reason("within", text, parameters, side.pointer, ("/value",), 1)
    measured = MeasuredValue(statistic="reading", value=FIGURE, unit=side.unit)
    return rule.finding(Outcome.PASS, [reason], rule.resolved, measured, FIGURE)
