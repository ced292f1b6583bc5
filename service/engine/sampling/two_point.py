"""The plan `two_point`: the smallest plan for a quality to accept and a quality to reject, each with its risk."""

from typing import TYPE_CHECKING, Annotated, Literal

from msgspec import UNSET, Meta, Struct, UnsetType

from service.engine.documents import written
from service.engine.numbers import exact
from service.engine.sampling.acceptance import AttributesPlan, Basis, LotSize, NoPlan, Stage, VariablesPlan
from service.engine.sampling.plans import Plan, lot_too_small, size_unknown

if TYPE_CHECKING:
    from service.engine.risks.two_point import RiskPoint

OpenShare = Annotated[float, Meta(gt=0, lt=100)]


class QualityPoint(Struct, frozen=True, forbid_unknown_fields=True):
    """A percentage nonconforming, and the risk at it in percent."""

    percent: OpenShare
    risk: OpenShare

    @property
    def as_shares(self) -> "RiskPoint":
        """Percentage and risk as shares of 1, exactly."""
        from service.engine.risks.two_point import RiskPoint  # special functions only where a plan needs them

        return RiskPoint(exact(self.percent) / 100, exact(self.risk) / 100)


class TwoPoint(Plan, frozen=True, kw_only=True, tag="two_point"):
    """The smallest plan that rejects the producer's quality and accepts the consumer's, each with at most its risk.

    By attributes or by variables, whichever the requirement accepts by; the plan has its own Ac or k. By the hypergeometric
    distribution, which is for attributes alone, the lot has at each point the whole number nonconforming that is nearest to
    percent × size, half up.
    """

    producer: QualityPoint
    """The quality to accept, with the risk that it is rejected."""
    consumer: QualityPoint
    """The worse quality to reject, with the risk that it is accepted."""
    law: Literal["binomial", "hypergeometric"] | UnsetType = UNSET
    """The distribution, for plans by attributes; `binomial` where left out."""

    @property
    def goes_by_size(self) -> bool:
        """True where the plan depends on the lot's size."""
        return self.law == "hypergeometric"

    @property
    def accepts_by(self) -> tuple[Basis, ...]:
        """Attributes and variables; attributes alone for the hypergeometric distribution."""
        return ("attributes",) if self.goes_by_size else ("attributes", "variables")

    def packages_of(self, lot: LotSize, what: str = "readings") -> int | NoPlan:
        """The sample size of the plan by variables where `what` is `readings`, else of that by attributes."""
        if what == "readings" and not self.goes_by_size:
            by_variables = self.variables_plan(lot)
            return by_variables if isinstance(by_variables, NoPlan) else by_variables.packages
        by_attributes = self.attributes_plan(lot, None)
        return by_attributes if isinstance(by_attributes, NoPlan) else by_attributes.stages[0].packages

    def attributes_plan(self, lot: LotSize, at_most: int | None = None) -> AttributesPlan | NoPlan:
        """The plan with the smallest n and, for it, the smallest Ac.

        Raises ValueError for an `at_most` of the grade, which compilation has refused before.
        """
        from service.engine.risks.two_point import by_attributes

        if at_most is not None:
            message = "a plan for two points has an accept number of its own"
            raise ValueError(message)
        if self.goes_by_size and lot.packages is None:
            return size_unknown("packages")
        found = by_attributes(self.producer.as_shares, self.consumer.as_shares, lot.packages if self.goes_by_size else None)
        if found is None:
            return self.no_such_plan(lot.packages if self.goes_by_size else None)
        if lot.packages is not None and found.packages > lot.packages:
            return lot_too_small(found.packages, lot.packages)
        stage = Stage(found.packages, found.accept, found.accept + 1)
        return AttributesPlan((stage,), takes_all=found.packages == lot.packages)

    def variables_plan(self, lot: LotSize) -> VariablesPlan | NoPlan:
        """The plan with the smallest n at which a k of four decimals meets both points, sigma unknown, and the smallest such k.

        Raises ValueError for the hypergeometric distribution, which compilation has refused before.
        """
        from service.engine.risks.two_point import by_variables

        if self.goes_by_size:
            message = "a plan by variables goes by no hypergeometric law"
            raise ValueError(message)
        found = by_variables(self.producer.as_shares, self.consumer.as_shares)
        if found is None:
            return self.no_such_plan(None)
        if lot.packages is not None and found.packages > lot.packages:
            return lot_too_small(found.packages, lot.packages)
        return VariablesPlan(found.packages, found.k)

    def has_plan(self, basis: Basis) -> bool:
        """Whether a plan exists for lots of unknown size; always True where the plan depends on the size."""
        # By the hypergeometric distribution each lot has its own plan, so a grade can't be refused for want of one.
        if self.goes_by_size:
            return True
        lot = LotSize(None)
        found = self.attributes_plan(lot, None) if basis == "attributes" else self.variables_plan(lot)
        return not isinstance(found, NoPlan)

    def no_such_plan(self, lot_size: int | None) -> NoPlan:
        """No plan, as the two points are too near each other."""
        whose = "No plan of 100,000 packages or fewer" if lot_size is None else f"No sample of a lot of {lot_size} packages"
        text = (
            f"{whose} can tell {written(self.producer.percent)} % nonconforming from {written(self.consumer.percent)} % with "
            f"risks of {written(self.producer.risk)} % and {written(self.consumer.risk)} %. "
            "Set the two points in the grade further apart, or allow greater risks."
        )
        return NoPlan("no-such-plan", text)
