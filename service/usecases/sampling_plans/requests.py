"""Requests for a sampling plan, and their flaws."""

from collections.abc import Iterator
from typing import Annotated, Literal

from msgspec import UNSET, Meta, Struct, UnsetType

from service.engine.documents import Flaw, LotToDraw, number_flaws, quoted, written
from service.engine.lot import lot_flaws
from service.engine.numbers import quantity_of
from service.engine.sampling import (
    Basis,
    CodeLetter,
    NoPlan,
    Sample,
    Share,
    TwoPoint,
    counting_flaws,
    plan_place_flaws,
    sample_flaws,
)

MOST_QUALITIES, MOST_ACCEPTED = 200, 100_000
ALL, WORST = 100, 10_000
"""Largest qualities, in percent nonconforming and in occurrences per hundred packages."""

Law = Literal["binomial", "poisson", "hypergeometric"]
Quality = Annotated[float, Meta(ge=0, le=WORST)]


class PlanRequest(Struct, frozen=True, forbid_unknown_fields=True):
    """A plan, the lot it is for as far as known, and the qualities at which to calculate its risks."""

    sample: Sample
    by: Basis | UnsetType = UNSET
    """The basis of acceptance; `attributes` if left out."""
    counting: Literal["packages", "occurrences"] | UnsetType = UNSET
    """What is counted by attributes; `packages` if left out."""
    at_most: Annotated[int, Meta(ge=0, le=MOST_ACCEPTED)] | UnsetType = UNSET
    """Acceptance number Ac, for a sample whose plan has none."""
    k: Annotated[float, Meta(ge=0)] | UnsetType = UNSET
    """The smallest quality statistic that accepts, for a sample whose plan has none."""
    lot: LotToDraw | UnsetType = UNSET
    qualities: Annotated[list[Quality], Meta(min_length=1, max_length=MOST_QUALITIES)] | UnsetType = UNSET
    """In percent nonconforming, or in occurrences per hundred packages; about twenty of interest if left out."""
    sigma: Literal["known", "unknown"] | UnsetType = UNSET
    """By variables; `unknown` if left out."""
    law: Law | UnsetType = UNSET
    """By attributes; if left out, `poisson` for occurrences, the plan's own or `binomial` for packages."""

    @property
    def basis(self) -> Basis:
        """The basis of acceptance."""
        return self.by or "attributes"

    @property
    def effective_law(self) -> Law:
        """The distribution of counts, by attributes."""
        if self.law:
            return self.law
        if self.counting == "occurrences":
            return "poisson"
        # A plan for two points and a size draws from that lot without replacement.
        return "hypergeometric" if isinstance(self.sample, TwoPoint) and self.sample.goes_by_size else "binomial"


def request_flaws(request: PlanRequest) -> Iterator[Flaw]:
    """All flaws of the request alone, in the order of its members."""
    yield from sample_flaws(request.sample, "/sample")
    for flaw in plan_place_flaws(request.sample, request.basis, "The sample", "/sample"):
        yield Flaw(flaw.code, _of_other_basis(request), flaw.at) if flaw.code == "plan-not-here" else flaw
    if request.basis == "attributes":
        yield from _attributes_flaws(request)
    else:
        yield from _variables_flaws(request)
    if request.lot:
        yield from lot_flaws(request.lot, "/lot")
        if request.lot.inspections:
            text = "A plan has one severity of inspection, and no classes as a grade has. Give `inspection` instead."
            yield Flaw("inspections-not-here", text, "/lot/inspections")
    for number, quality in enumerate(request.qualities or ()):
        yield from _quality_flaws(request, quality, f"/qualities/{number}")


def no_plan_flaw(request: PlanRequest, none: NoPlan) -> Flaw:
    """The flaw that no plan exists for the lot, with the pointer of the member that causes it."""
    match none.code:
        case "no-such-plan":
            at = "/sample"
        case "plan-not-in-table" if request.lot and (request.lot.inspection or "normal") != "normal":
            at = "/lot/inspection"
        case "lot-size-unknown" if isinstance(request.sample, Share) and request.sample.counted_in:
            at = f"/lot/{quantity_of(request.sample.counted_in)}"
        case _:
            at = "/lot/size"
    return Flaw(none.code, none.text, at)


def sample_too_small() -> Flaw:
    """The flaw of a sample of one reading, which has no spread."""
    text = "The sample gives one value, and a standard deviation needs two. Draw more packages, or set `sigma` to `known`."
    return Flaw("sample-too-small", text, "/sample")


def _of_other_basis(request: PlanRequest) -> str:
    """That the plan accepts by the other basis, which the request can ask for."""
    sample, (basis,) = request.sample, request.sample.accepts_by
    what = sample.table if isinstance(sample, CodeLetter) else f"The plan {quoted(sample.__struct_config__.tag)}"
    return f'{what} is by {basis}; {"set" if request.by else "add"} `"by": "{basis}"`.'


def _attributes_flaws(request: PlanRequest) -> Iterator[Flaw]:
    """Flaws of a request by attributes."""
    counting = request.counting or "packages"
    yield from counting_flaws(request.sample, counting, "/sample")
    plan = quoted(request.sample.__struct_config__.tag)
    if request.sample.accepts_by and not isinstance(request.at_most, UnsetType):
        text = f"The plan {plan} has its own accept number. Remove `at_most`, or use another plan."
        yield Flaw("at-most-not-here", text, "/at_most")
    if not request.sample.accepts_by and isinstance(request.at_most, UnsetType):
        text = f"The plan {plan} gives how many packages to draw, but not how many may be nonconforming. Add `at_most`."
        yield Flaw("missing-field", text, "/at_most")
    if request.sample.readings_per_package:
        text = "Packages are inspected here, and no reading is taken. Remove `readings_per_package`."
        yield Flaw("readings-not-here", text, "/sample/readings_per_package")
    for member, value in (("k", request.k), ("sigma", request.sigma)):
        if not isinstance(value, UnsetType):
            yield _not_here(member, "variables", request.basis)
    if counting == "occurrences" and request.effective_law != "poisson":
        text = "A package may have several occurrences, and this law counts packages. Use `poisson`, or leave `law` out."
        yield Flaw("law-of-packages", text, "/law")
    if request.effective_law == "hypergeometric" and not (request.lot and request.lot.size):
        text = "The hypergeometric law depends on the size of the lot, which is not given. Give `size` in `lot`."
        yield Flaw("lot-size-unknown", text, "/lot/size")


def _variables_flaws(request: PlanRequest) -> Iterator[Flaw]:
    """Flaws of a request by variables."""
    plan = quoted(request.sample.__struct_config__.tag)
    if isinstance(request.k, UnsetType):
        if not request.sample.accepts_by:
            yield Flaw("missing-field", f"The plan {plan} has no k. Add `k`.", "/k")
    elif request.sample.accepts_by:
        yield Flaw("k-not-here", f"The plan {plan} has its own k. Remove `k`, or use another plan.", "/k")
    else:
        yield from number_flaws(request.k, "/k")
    if request.sigma != "known" and request.sample.greatest == 1:
        yield sample_too_small()
    for member, value in (("counting", request.counting), ("at_most", request.at_most), ("law", request.law)):
        if not isinstance(value, UnsetType):
            yield _not_here(member, "attributes", request.basis)


def _not_here(member: str, of: Basis, by: Basis) -> Flaw:
    text = f"`{member}` is for a plan by {of}, and this one is by {by}. Remove it, or set `by` to `{of}`."
    return Flaw("not-of-this-basis", text, f"/{member}")


def _quality_flaws(request: PlanRequest, quality: float, at: str) -> Iterator[Flaw]:
    """Flaws of a quality that is out of range, or more than all packages."""
    yield from number_flaws(quality, at)
    if quality > ALL and request.counting != "occurrences":
        text = (
            f"{written(quality)} % nonconforming is more than 100 %. Correct it, or set `counting` to `occurrences`, which are "
            "given per hundred packages."
        )
        yield Flaw("quality-above-all", text, at)
