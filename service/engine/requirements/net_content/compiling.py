"""The flaws of a requirement on a net content, and its compilation."""

from collections.abc import Iterator, Mapping
from fractions import Fraction

from msgspec import UnsetType

from service.engine.characteristics import CompiledCharacteristic
from service.engine.documents import Flaw, Quantity, did_you_mean, in_words, listed, number_flaws, quoted
from service.engine.numbers import exact
from service.engine.requirements.grade_context import GradeContext
from service.engine.requirements.limits.guarding import decision_not_here
from service.engine.requirements.net_content.documents import NetContent, Own, Tolerable
from service.engine.requirements.net_content.figures import PLAIN, Band, Law, Tolerance
from service.engine.requirements.net_content.rules import LAWS, nist_hb133
from service.engine.requirements.net_content.ruling import GradePlan, NetContentRule, TablePlan
from service.engine.requirements.rules import characteristic_fields
from service.engine.sampling import plan_place_flaws, sample_flaws

MEASURABLE: tuple[Quantity, ...] = ("mass", "length", "count")
"""The quantities that a content can be declared in."""
CERTAIN = 100


def flaws(document: NetContent, context: GradeContext, at: str) -> Iterator[Flaw]:
    """The flaws of the document; `at` is its place in the specification."""
    of, law = context.characteristics.get(document.of), LAWS.get(document.rule)
    if of:
        yield from _characteristic_flaws(document, of, law, at)
    yield from _nominal_flaws(document, of, context, at)
    yield from _choice_flaws(document, law, at)
    yield from _own_flaws(document, law, at)
    yield from decision_not_here(document.decision, "net_content", at)
    if document.set_point:
        yield from number_flaws(document.set_point.chance, f"{at}/set_point/chance")
        if document.set_point.chance >= CERTAIN:
            text = "No average meets a rule with certainty. Give a chance below 100 %, such as 95."
            yield Flaw("chance-of-certainty", text, f"{at}/set_point/chance")


def _characteristic_flaws(document: NetContent, of: CompiledCharacteristic, law: Law | None, at: str) -> Iterator[Flaw]:
    """The characteristic is of a quantity that the rule is for, and has a value for each package."""
    asked = (law.quantity,) if law else MEASURABLE
    if of.quantity not in asked:
        whom = f"`{document.rule}` is for a {' or a '.join(in_words(quantity) for quantity in asked)}"
        text = f"{whom}, and `{of.name}` is a {in_words(of.quantity)}. Use another rule, or another characteristic."
        yield Flaw("rule-of-other-quantity", text, f"{at}/rule")
    if of.derived and of.derived.of_means:
        text = f"`{of.name}` is a single quotient of means for the lot, so only a `mean` applies to it. Write `mean`."
        yield Flaw("only-mean-here", text, f"{at}/kind")


def _nominal_flaws(document: NetContent, of: CompiledCharacteristic | None, context: GradeContext, at: str) -> Iterator[Flaw]:
    """There is one nominal content, stated or declared, and the rule has figures for it."""
    if bool(document.of_declared) == (not isinstance(document.nominal, UnsetType)):
        given = "given twice" if document.of_declared else "missing"
        text = f"The nominal content is {given}. Give one of `nominal` and `of_declared`."
        yield Flaw("one-nominal", text, f"{at}/of_declared" if document.of_declared else f"{at}/nominal")
    if document.of_declared:
        yield from _declared_flaws(document.of_declared, of, context, f"{at}/of_declared")
    if isinstance(document.nominal, UnsetType):
        return
    yield from number_flaws(document.nominal, f"{at}/nominal")
    law = LAWS.get(document.rule)
    if law and of and of.unit and of.quantity == law.quantity:
        tolerance = _tolerance_of(document, law)
        # The bands of a law are in kilograms or metres, whatever unit the grade uses.
        if tolerance.of(exact(document.nominal) * of.unit.factor) is None:
            text = (
                f"`{document.rule}` has no figure for a nominal content of {document.nominal:g} {of.symbol}. "
                "Use another rule, or give your own figures."
            )
            yield Flaw("nominal-beyond-rule", text, f"{at}/nominal")


def _declared_flaws(name: str, of: CompiledCharacteristic | None, context: GradeContext, at: str) -> Iterator[Flaw]:
    """The declared characteristic is one of the grade, not derived, and of the same quantity as the content."""
    declared = context.characteristics.get(name)
    if declared is None:
        suggestion = did_you_mean(name, context.characteristics) or " Add it to `characteristics`, or correct the name."
        yield Flaw("unknown-characteristic", f"There is no characteristic {quoted(name)} here.{suggestion}", at)
    elif declared.derived:
        yield Flaw("derived-not-declared", f"`{name}` is calculated, not declared. Name another characteristic.", at)
    elif of and declared.quantity != of.quantity:
        text = (
            f"`{name}` is a {in_words(declared.quantity)} and `{of.name}` is a {in_words(of.quantity)}, so the one cannot be "
            f"the nominal content of the other. Name a {in_words(of.quantity)}."
        )
        yield Flaw("nominal-of-other-quantity", text, at)


def _choice_flaws(document: NetContent, law: Law | None, at: str) -> Iterator[Flaw]:
    """The members `yarn`, `scheme` and `destructive` choose a table that the rule has."""
    if document.yarn and not (law and law.yarn_tolerance):
        rules_for_yarn = [name for name, each in LAWS.items() if each.yarn_tolerance]
        text = f"`{document.rule}` has no figures of its own for yarn. Remove `yarn`, or use {listed(rules_for_yarn)}."
        yield Flaw("not-of-this-rule", text, f"{at}/yarn")
    if document.scheme == "double" and not (law and "double" in law.rows):
        text = f"`{document.rule}` has no double plan here. Remove `scheme`."
        yield Flaw("not-of-this-rule", text, f"{at}/scheme")
    elif document.scheme == "double" and document.destructive:
        text = f"`{document.rule}` has only a single plan for packages that are opened. Remove `scheme`."
        yield Flaw("not-of-this-rule", text, f"{at}/scheme")


def _own_flaws(document: NetContent, law: Law | None, at: str) -> Iterator[Flaw]:
    """The grade states figures of its own exactly where the rule takes them."""
    if law and document.own:
        text = f"The figures of `{document.rule}` are available here. Remove `own`, or write `own` as the rule."
        yield Flaw("not-of-this-rule", text, f"{at}/own")
    elif not law and not document.own:
        text = f"`{document.rule}` takes its plan and its tolerance from the grade. Add `own`."
        yield Flaw("missing-field", text, f"{at}/own")
    elif document.own:
        yield from _figures_flaws(document.own, document.rule, f"{at}/own")


def _figures_flaws(own: Own, rule: str, at: str) -> Iterator[Flaw]:
    """The flaws of the grade's own figures."""
    yield from sample_flaws(own.sample, f"{at}/sample")
    yield from plan_place_flaws(own.sample, "attributes", "The sample", f"{at}/sample")
    if own.sample.readings_per_package:
        text = "Each package has one content. Remove `readings_per_package`."
        yield Flaw("readings-not-here", text, f"{at}/sample/readings_per_package")
    plan = quoted(own.sample.__struct_config__.tag)
    if own.sample.accepts_by and not isinstance(own.at_most_beyond, UnsetType):
        text = f"The plan {plan} has its own accept number. Remove `at_most_beyond`, or use another plan."
        yield Flaw("at-most-not-here", text, f"{at}/at_most_beyond")
    elif not own.sample.accepts_by and isinstance(own.at_most_beyond, UnsetType):
        text = f"The plan {plan} gives how many packages to draw, but not how many may be short. Add `at_most_beyond`."
        yield Flaw("missing-field", text, f"{at}/at_most_beyond")
    if rule == nist_hb133.NAME and not isinstance(own.mean_factor, UnsetType):
        text = f"`{rule}` has its own factors, by the number of packages. Remove `mean_factor`."
        yield Flaw("not-of-this-rule", text, f"{at}/mean_factor")
    for name, number in (("mean_factor", own.mean_factor), ("none_beyond_times", own.none_beyond_times)):
        if not isinstance(number, UnsetType):
            yield from number_flaws(number, f"{at}/{name}")
    yield from _tolerable_flaws(own.tolerable, f"{at}/tolerable")


def _tolerable_flaws(tolerable: Tolerable, at: str) -> Iterator[Flaw]:
    """Either a share or an amount is tolerable, and only a share is rounded."""
    percent, amount = tolerable.percent, tolerable.amount
    if isinstance(percent, UnsetType) == isinstance(amount, UnsetType):
        given = "missing" if isinstance(amount, UnsetType) else "given twice"
        yield Flaw("one-tolerable", f"The tolerance is {given}. Give one of `percent` and `amount`.", at)
    if isinstance(percent, UnsetType) and not isinstance(tolerable.rounding_up_to, UnsetType):
        text = "Only a percentage is rounded up, and this is an amount. Remove `rounding_up_to`."
        yield Flaw("rounding-not-here", text, f"{at}/rounding_up_to")
    for name, number in (("percent", percent), ("amount", amount), ("rounding_up_to", tolerable.rounding_up_to)):
        if not isinstance(number, UnsetType):
            yield from number_flaws(number, f"{at}/{name}")


def compiled(document: NetContent, context: GradeContext, pointer: str) -> NetContentRule:
    """The compiled requirement; `document` has no flaws, and `pointer` is its place in the specification."""
    of, law, own = context.characteristic(document.of), LAWS.get(document.rule), document.own
    assert of.unit
    if law:
        plan_source: TablePlan | GradePlan = TablePlan(law.name, law.rows[_table_of(document, law)])
        tolerance, scale, tolerable_factor = _tolerance_of(document, law), of.unit.factor, law.none_beyond_times
    else:
        # The grade's own figures are in the characteristic's unit, so they need no scale.
        assert own
        plan_source, tolerance, scale, tolerable_factor = (
            _own_plan(own, document.rule),
            _own_tolerance(own),
            Fraction(1),
            _or_none(own.none_beyond_times),
        )
    return NetContentRule(
        nominal=_or_none(document.nominal),
        declared=context.characteristic(document.of_declared) if document.of_declared else None,
        plan_source=plan_source,
        tolerance=tolerance,
        scale=scale,
        tolerable_factor=tolerable_factor,
        chance=exact(document.set_point.chance) / CERTAIN if document.set_point else None,
        **characteristic_fields(document, of, pointer),
    )


def _table_of(document: NetContent, law: Law) -> str:
    """The name of the rule's table; the one for packages that are opened, where the rule has it, takes precedence."""
    if document.destructive and "destructive" in law.rows:
        return "destructive"
    return document.scheme or "single"


def _tolerance_of(document: NetContent, law: Law) -> Tolerance:
    """The tolerable shortage by the rule, for yarn where the grade says so."""
    return law.yarn_tolerance if document.yarn and law.yarn_tolerance else law.tolerance


def _own_plan(own: Own, rule: str) -> GradePlan:
    """The plan that the grade states, with the factor of the mean."""
    is_nist = rule == nist_hb133.NAME
    factors: Mapping[int, Fraction] = nist_hb133.SAMPLE_CORRECTION if is_nist else {}
    at_most = None if isinstance(own.at_most_beyond, UnsetType) else own.at_most_beyond
    return GradePlan(own.sample, at_most, None if is_nist else _or_none(own.mean_factor) or PLAIN, factors)


def _own_tolerance(own: Own) -> Tolerance:
    """The tolerable shortage that the grade states, as one band for every nominal content."""
    band = Band(PLAIN, None, _or_none(own.tolerable.percent), _or_none(own.tolerable.amount))
    return Tolerance((band,), _or_none(own.tolerable.rounding_up_to))


def _or_none(number: float | UnsetType) -> Fraction | None:
    """The number, exactly; None where it is left out."""
    return None if isinstance(number, UnsetType) else exact(number)
