"""The plan `code_letter`: a plan of a published table by inspection level or code letter, and AQL."""

from fractions import Fraction
from typing import Annotated, Literal

from msgspec import UNSET, Meta, UnsetType

from service.engine.documents import written
from service.engine.numbers import exact
from service.engine.sampling.acceptance import AttributesPlan, Basis, LotSize, NoPlan, Stage, VariablesPlan
from service.engine.sampling.plans import Plan, lot_too_small, size_unknown
from service.engine.sampling.tables import mil_std_105e, mil_std_414
from service.engine.sampling.tables.pages import Letters

Table = Literal["MIL-STD-105E", "MIL-STD-414"]
Level = Literal["S-1", "S-2", "S-3", "S-4", "I", "II", "III", "IV", "V"]
Letter = Literal["A", "B", "C", "D", "E", "F", "G", "H", "I", "J", "K", "L", "M", "N", "O", "P", "Q", "R"]
Scheme = Literal["single", "double"]

# MIL-STD-105E, Tables II-A to II-C: the columns above 10 are for nonconformities per hundred units alone.
LARGEST_PERCENT = 10
"""The largest AQL that may be in percent nonconforming."""


class CodeLetter(Plan, frozen=True, kw_only=True, tag="code_letter"):
    """A plan of a published table: MIL-STD-105E by attributes, MIL-STD-414 by variables. Give one of `level` and `letter`."""

    table: Table
    aql: Annotated[float, Meta(gt=0)]
    """An AQL of the table, in percent nonconforming or in nonconformities per hundred packages."""
    level: Level | UnsetType = UNSET
    """The inspection level, which with the lot's size gives the letter."""
    letter: Letter | UnsetType = UNSET
    scheme: Scheme | UnsetType = UNSET
    """`single` where left out."""

    @property
    def accepts_by(self) -> tuple[Basis, ...]:
        """The basis of the table's plans."""
        return ("attributes",) if self.table == mil_std_105e.NAME else ("variables",)

    @property
    def is_per_hundred(self) -> bool:
        """True where the AQL can only be of nonconformities per hundred packages, so that occurrences have to be counted."""
        return exact(self.aql) > LARGEST_PERCENT

    def packages_of(self, lot: LotSize, what: str = "packages") -> int | NoPlan:
        """The sample size, for a double plan that of the first sample; by MIL-STD-105E at most the whole lot."""
        if self.table == mil_std_414.NAME:
            by_variables = self.variables_plan(lot, what)
            return by_variables if isinstance(by_variables, NoPlan) else by_variables.packages
        by_attributes = self.attributes_plan(lot, None, what)
        return by_attributes if isinstance(by_attributes, NoPlan) else by_attributes.stages[0].packages

    def attributes_plan(self, lot: LotSize, at_most: int | None = None, what: str = "packages") -> AttributesPlan | NoPlan:
        """The plan of MIL-STD-105E, after arrows; every package where its sample is as large as the lot or larger.

        Raises ValueError for a plan of the other table, or with an `at_most`, which compilation has refused before.
        """
        if at_most is not None or self.table != mil_std_105e.NAME:
            message = f"{self.table} gives a plan by {self.accepts_by[0]}, with its own numbers"
            raise ValueError(message)
        letter = self._letter(mil_std_105e.letters(), lot, what)
        if isinstance(letter, NoPlan):
            return letter
        if self.scheme == "double" and lot.inspection != "normal":
            return _no_double(lot)
        aql = exact(self.aql)
        single = mil_std_105e.single(letter, aql, lot.inspection)
        plan = mil_std_105e.double(letter, aql) if self.scheme == "double" else single
        return _within(lot.packages, plan, single)

    def variables_plan(self, lot: LotSize, what: str = "readings") -> VariablesPlan | NoPlan:
        """The plan of MIL-STD-414, after arrows.

        Raises ValueError for a plan of the other table, which compilation has refused before.
        """
        if self.table != mil_std_414.NAME:
            message = f"{self.table} has no k"
            raise ValueError(message)
        letter = self._letter(mil_std_414.letters(), lot, what)
        if isinstance(letter, NoPlan):
            return letter
        plan = self._of_variables(letter, lot)
        if isinstance(plan, NoPlan):
            return plan
        # k holds for this sample size alone, so a smaller lot is not accepted by all of its packages as by attributes.
        if lot.packages is not None and plan.packages > lot.packages:
            return lot_too_small(plan.packages, lot.packages)
        return VariablesPlan(plan.packages, plan.k, plan.letter)

    def _letter(self, letters: Letters, lot: LotSize, what: str) -> str | NoPlan:
        """The letter that the grade gives, or the one for the lot's size."""
        if not isinstance(self.letter, UnsetType):
            return self.letter
        if lot.packages is None:
            return size_unknown(what)
        # Without a letter a level is given: compilation refuses a plan with neither.
        found = letters.of(str(self.level), lot.packages)
        return found or _lot_below_table(self.table, letters.smallest_lot, lot.packages)

    def _of_variables(self, letter: str, lot: LotSize) -> mil_std_414.TablePlan | NoPlan:
        """The plan of the table at the lot's severity of inspection."""
        aql = exact(self.aql)
        match lot.inspection:
            case "normal":
                return mil_std_414.normal(letter, aql)
            case "tightened":
                return mil_std_414.tightened(letter, aql) or _no_tightened(self.table, aql)
            # Table B-1 serves normal and tightened inspection; the table of reduced inspection is not transcribed here.
            case "reduced":
                text = (
                    f"{self.table} is available here for normal and tightened inspection, and this lot is under reduced "
                    "inspection. Give the lot's `inspection` as `normal` or `tightened`."
                )
                return NoPlan("plan-not-in-table", text)


def _within(lot_size: int | None, plan: mil_std_105e.TablePlan, single: mil_std_105e.TablePlan) -> AttributesPlan:
    """The plan for a lot of this size: every package where the sample is as large as the lot or larger.

    plan    the plan of the table, single or double
    single  the single plan at the same letter and AQL

    Source: MIL-STD-105E, footnote of Table II-A: a sample size that equals or exceeds the lot size means every package.
    """
    first = plan.samples[0]
    # A first sample that is the whole lot leaves no second one to draw, so the numbers of the single plan apply.
    if lot_size is not None and first.packages >= lot_size:
        numbers = single.samples[0]
        return AttributesPlan((Stage(lot_size, numbers.accept, numbers.reject),), single.letter, takes_all=True)
    stages = [Stage(*first)]
    for later in plan.samples[1:]:
        # A second sample larger than the rest of the lot is that rest.
        packages = later.packages if lot_size is None else min(later.packages, lot_size - first.packages)
        stages.append(Stage(packages, later.accept, later.reject))
    return AttributesPlan(tuple(stages), plan.letter)


def _lot_below_table(table: str, smallest: int, lot_size: int) -> NoPlan:
    """No plan, as the table begins with larger lots."""
    text = (
        f"{table} begins with lots of {smallest} packages, and this lot has {lot_size}. "
        "Use a plan for small lots in the grade, such as `every` or `bands`."
    )
    return NoPlan("plan-not-in-table", text)


def _no_double(lot: LotSize) -> NoPlan:
    """No plan, as double plans are available for normal inspection alone."""
    text = (
        "Double plans are available here for normal inspection (MIL-STD-105E, Table III-A), and the lot is under "
        f"{lot.inspection} inspection. Use the `single` scheme in the grade."
    )
    return NoPlan("plan-not-in-table", text)


def _no_tightened(table: str, aql: Fraction) -> NoPlan:
    """No plan, as tightened inspection uses the next smaller AQL and this one is the smallest."""
    text = (
        f"Tightened inspection uses the next smaller AQL of {table}, and {written(float(aql))} is the smallest. "
        "Use a larger AQL in the grade, or a plan that is not from a table."
    )
    return NoPlan("plan-not-in-table", text)
