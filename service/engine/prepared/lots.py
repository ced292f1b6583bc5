"""Verdicts on lots that plainly pass, written ahead: all but the figures stands ready, as bytes.

Most lots that are judged pass, and most have one series a characteristic, each reading of a package of its own. Then nothing
but figures differs from one verdict to the next, so no document has to be put together. A kind of requirement that says
`passes_plainly` takes part: it judges by the same exact comparisons as ever, and says which figures fill the blanks of a
finding that it wrote before. Whatever is not plain (a failure, a sample that is short, packages by name, a kind that takes no
part) is judged by `judging`, and a test holds the bytes of both ways together.
"""

from collections.abc import Sequence

from msgspec import UNSET, Struct, UnsetType

from service.engine.blanks import FIGURE, encoded, parts
from service.engine.columns import LONG, WholeColumn
from service.engine.compilation import CompiledGrade
from service.engine.evidence import Evidence
from service.engine.ordinary import holds_only_series, ordinary_column
from service.engine.prepared.passed import Passed
from service.engine.provenance import evidence_digest
from service.engine.requirements.measuring import MeasuredRule
from service.engine.verdict import Outcome, Verdict

MOST_TEMPLATES = 64
"""So many are kept for a grade under one code and revision: one for each way in which values may lie nearest to a side."""
Sides = tuple[str, ...]
"""Of each requirement, the side that its decisive value lies nearest to."""


class PreparedVerdicts(Struct, frozen=True):
    """The verdicts on lots that plainly pass a grade, under one code and revision."""

    grade: CompiledGrade
    code: str | UnsetType
    revision: int | UnsetType
    rules: Sequence[MeasuredRule]
    templates: dict[Sides, list[bytes]]

    def of(self, evidence: Evidence) -> bytes | None:
        """The verdict, where the lot plainly passes; else None."""
        columns = _columns(self.grade, evidence)
        if columns is None:
            return None
        sides: Sides = ()
        filled: tuple[bytes, ...] = ()
        for rule in self.rules:
            found = columns.get(rule.of.name)
            passed = rule.plain_pass(*found) if found else None
            if passed is None:
                return None
            sides += (passed.side,)
            filled += passed.filled
        digest = evidence_digest(evidence, [None] * len(columns))
        whole = self._template(sides).copy()
        whole[1::2] = encoded(evidence.lot.id), encoded(digest), *filled
        return b"".join(whole)

    def _template(self, sides: Sides) -> list[bytes]:
        """The verdict for values nearest to these sides: its parts, with an empty one for each blank between."""
        made = self.templates.get(sides)
        if made is None:
            document = Verdict(
                outcome=Outcome.PASS,
                grade=self.code,
                revision=self.revision,
                lot=FIGURE,
                specification=self.grade.digest,
                evidence=FIGURE,
                findings=[rule.plain_finding(side) for rule, side in zip(self.rules, sides, strict=True)],
            )
            made = [each for part in parts(document) for each in (part, b"")][:-1]
            if len(self.templates) < MOST_TEMPLATES:
                self.templates[sides] = made
        return made


def verdict_ahead(grade: CompiledGrade, evidence: Evidence, code: str | UnsetType, revision: int | UnsetType) -> Passed | None:
    """What `judging.judge` says, ready as bytes, of a lot that plainly passes; None where it has to be judged by that."""
    key = (code, revision)
    prepared = grade.prepared_lots.get(key, UNSET)
    if prepared is UNSET:
        prepared = grade.prepared_lots[key] = _prepared(grade, code, revision)
    document = prepared.of(evidence) if prepared else None
    return Passed(document) if document else None


def _prepared(grade: CompiledGrade, code: str | UnsetType, revision: int | UnsetType) -> PreparedVerdicts | None:
    """None where a requirement can't take part."""
    rules = [rule for rule in grade.requirements if isinstance(rule, MeasuredRule) and rule.passes_plainly]
    if grade.derived or len(rules) < len(grade.requirements):
        return None
    return PreparedVerdicts(grade, code, revision, rules, {})


def _columns(grade: CompiledGrade, evidence: Evidence) -> dict[str, tuple[WholeColumn, int]] | None:
    """By characteristic its readings, and the number of the series that they stand in; None where anything is special."""
    if not holds_only_series(evidence):
        return None
    columns: dict[str, tuple[WholeColumn, int]] = {}
    for number, series in enumerate(evidence.series or ()):
        of = grade.characteristics.get(series.characteristic)
        if of is None or of.name in columns or series.packages or len(series.values) >= LONG:
            return None
        column = ordinary_column(series, None, of)
        if not isinstance(column, WholeColumn):
            return None
        columns[of.name] = column, number
    return columns
