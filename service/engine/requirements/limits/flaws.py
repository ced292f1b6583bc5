"""The flaws of limits that depend on the lot."""

from collections.abc import Iterator, Sequence

from msgspec import UNSET, UnsetType

from service.engine.characteristics import (
    MEMBERS,
    CompiledCharacteristic,
    Dependent,
    Limits,
    Row,
    limits_flaws,
    member_of,
    rounding_flaws,
)
from service.engine.documents import Flaw, Quantity, did_you_mean, in_words, listed, number_flaws, quoted
from service.engine.numbers import find_unit, units_of
from service.engine.requirements.grade_context import GradeContext

ARGUMENTS = ("of_declared", "of_mean", "of_limit")


def all_limits_flaws(limits: Limits, of: CompiledCharacteristic, context: GradeContext, at: str) -> Iterator[Flaw]:
    """The flaws of a requirement's limits on this characteristic, where they may depend on the lot."""
    yield from limits_flaws(limits, of, at)
    for side in MEMBERS:
        member = member_of(limits, side)
        if member and isinstance(document := getattr(limits, member), Dependent):
            yield from _dependent_flaws(document, of, context, side, f"{at}/{member}")


def fixed_limits_flaws(limits: Limits, of: CompiledCharacteristic, at: str) -> Iterator[Flaw]:
    """The flaws of limits that may not depend on the lot."""
    yield from limits_flaws(limits, of, at)
    for side in MEMBERS:
        member = member_of(limits, side)
        if member and isinstance(getattr(limits, member), Dependent):
            text = "This limit must be a number; it cannot depend on the lot. Give the number."
            yield Flaw("limit-depends-here", text, f"{at}/{member}")


def _dependent_flaws(
    document: Dependent, of: CompiledCharacteristic, context: GradeContext, side: str, at: str
) -> Iterator[Flaw]:
    """The flaws of one side that depends on the lot."""
    given = [name for name in ARGUMENTS if getattr(document, name) is not UNSET]
    if len(given) != 1:
        text = f"A limit is calculated from one thing. Give one of {listed(ARGUMENTS)}."
        yield Flaw("one-argument", text, at)
        return
    yield from _number_flaws(document, at)
    yield from _making_flaws(document, at)
    if document.of_limit:
        flaws = list(_other_limit_flaws(document.of_limit, of, context, side, f"{at}/of_limit"))
    else:
        flaws = list(_argument_flaws(document, context, f"{at}/{given[0]}"))
    yield from flaws
    # An unknown argument has no quantity, so its units would be flawed in every case.
    if not flaws:
        yield from _unit_flaws(document, _argument_quantity(document, context), of, at)


def _number_flaws(document: Dependent, at: str) -> Iterator[Flaw]:
    """Each number is within the range of numbers."""
    for name in ("percent", "numerator", "constant"):
        number = getattr(document, name)
        if number is not UNSET:
            yield from number_flaws(number, f"{at}/{name}")
    if not isinstance(document.rounding, UnsetType):
        yield from rounding_flaws(document.rounding, f"{at}/rounding")


def _making_flaws(document: Dependent, at: str) -> Iterator[Flaw]:
    """At least one of a law, a schedule and a share is given, no law beside a schedule, and a law has its numerator."""
    has_law = document.law is not UNSET
    if has_law and document.schedule is not UNSET:
        yield Flaw("law-or-schedule", "A law and a schedule are given. Remove one of the two.", f"{at}/schedule")
    if not has_law and document.schedule is UNSET and document.percent is UNSET:
        text = "How the limit is calculated is missing. Give `percent`, a `law` or a `schedule`."
        yield Flaw("missing-field", text, f"{at}/percent")
    if has_law and document.numerator is UNSET:
        text = "The law needs a `numerator`, which is missing. Add it."
        yield Flaw("missing-field", text, f"{at}/numerator")
    for name in ("numerator", "constant"):
        if not has_law and getattr(document, name) is not UNSET:
            text = f"`{name}` belongs to a law. Add `law`, or remove it."
            yield Flaw("only-with-law", text, f"{at}/{name}")
    if not isinstance(document.schedule, UnsetType):
        yield from _schedule_flaws(document.schedule, f"{at}/schedule")


def _schedule_flaws(rows: Sequence[Row], at: str) -> Iterator[Flaw]:
    """All rows are of one sort, `up_to` or `at`, in ascending order of their sizes."""
    by_steps = [row.up_to is not UNSET for row in rows]
    sizes = [row.up_to or row.at or 0 for row in rows]
    for number, row in enumerate(rows):
        yield from number_flaws(row.limit, f"{at}/{number}/limit")
        if (row.up_to is UNSET) == (row.at is UNSET):
            text = "A row is for all sizes `up_to` a size, or for the size `at` it. Give one of the two."
            yield Flaw("up-to-or-at", text, f"{at}/{number}")
        # Steps and interpolation between rows of one schedule would leave open which of the two applies.
        elif by_steps[number] != by_steps[0]:
            text = "The first row is by the other of `up_to` and `at`. Use one of the two in all rows."
            yield Flaw("up-to-or-at", text, f"{at}/{number}")
        elif number and sizes[number] <= sizes[number - 1]:
            text = "The size is not above that of the row before. Put the rows in rising order, each size once."
            yield Flaw("rows-not-rising", text, f"{at}/{number}")


def _argument_flaws(document: Dependent, context: GradeContext, at: str) -> Iterator[Flaw]:
    """The characteristic that the limit is calculated from is one of the grade, and has a number."""
    name = document.of_declared or document.of_mean or ""
    of = context.characteristics.get(name)
    if of is None:
        suggestion = did_you_mean(name, context.characteristics) or " Add it to `characteristics`, or correct the name."
        yield Flaw("unknown-characteristic", f"There is no characteristic {quoted(name)} here.{suggestion}", at)
    elif of.quantity == "category":
        text = f"`{of.name}` is a category, and no limit can be calculated from it. Name a characteristic with a unit."
        yield Flaw("category-not-measured", text, at)
    elif document.of_declared and of.derived:
        text = f"`{of.name}` is calculated, not declared. Name another characteristic, or use its mean by `of_mean`."
        yield Flaw("derived-not-declared", text, at)


def _other_limit_flaws(name: str, of: CompiledCharacteristic, context: GradeContext, side: str, at: str) -> Iterator[Flaw]:
    """The other requirement exists, has a limit on this side, and does not depend on this one."""
    if name not in context.requirements:
        suggestion = did_you_mean(name, context.requirements) or " Correct the id."
        yield Flaw("unknown-requirement", f"There is no requirement {quoted(name)} here.{suggestion}", at)
        return
    found = context.limits_of(name)
    if found is None:
        yield Flaw("no-limit-there", f"{quoted(name)} has no limits. Name a requirement that has limits.", at)
        return
    # A tolerance is a limit too, and it is stated by `minus` or `plus`, which `member_of` does not look for.
    limits, _ = found
    has_tolerance = limits.nominal is not UNSET and (limits.minus if side == "lower" else limits.plus) is not UNSET
    if member_of(limits, side) is None and not has_tolerance:
        text = f"{quoted(name)} has no {side} limit. Name a requirement that has one."
        yield Flaw("no-limit-there", text, at)
    elif _comes_back(name, context, side):
        text = (
            f"The {side} limit of {quoted(name)} is calculated from this one, and this one from it. "
            "Give one of the two as a number."
        )
        yield Flaw("limit-of-itself", text, at)


def _comes_back(name: str, context: GradeContext, side: str) -> bool:
    """True where the chain of `of_limit` that starts at this requirement has a cycle."""
    # A cycle may be further down the chain and not contain the first requirement, so every name is remembered.
    visited: set[str] = set()
    while name not in visited:
        visited.add(name)
        found = context.limits_of(name)
        member = member_of(found[0], side) if found else None
        document = getattr(found[0], member) if found and member else None
        if not isinstance(document, Dependent) or not document.of_limit:
            return False
        name = document.of_limit
    return True


def _argument_quantity(document: Dependent, context: GradeContext) -> Quantity:
    """The quantity of the argument."""
    if document.of_limit and (found := context.limits_of(document.of_limit)):
        return found[1].quantity
    return context.characteristic(document.of_declared or document.of_mean or "").quantity


def _unit_flaws(document: Dependent, argument: Quantity, of: CompiledCharacteristic, at: str) -> Iterator[Flaw]:
    """A share has the quantity of its argument; the units of a law or a schedule have the quantities of both."""
    makes_another = document.law is not UNSET or document.schedule is not UNSET
    if not makes_another and argument != of.quantity:
        text = (
            f"A share of a {in_words(argument)} is not a {in_words(of.quantity)}. Add a `law` or a `schedule` that gives one."
        )
        yield Flaw("share-of-other-quantity", text, f"{at}/percent")
    for name, word, quantity in (("taken_in", document.taken_in, argument), ("in", document.in_, of.quantity)):
        if word and not makes_another:
            yield Flaw("only-with-law", f"`{name}` belongs to a law or a schedule. Remove it.", f"{at}/{name}")
        elif word and quantity != "category" and ((unit := find_unit(word, quantity)) is None or unit.quantity != quantity):
            symbols = listed(unit.symbol for unit in units_of(quantity))
            yield Flaw(
                "unknown-unit", f"{quoted(word)} is not a unit of {in_words(quantity)}. Write one of {symbols}.", f"{at}/{name}"
            )
