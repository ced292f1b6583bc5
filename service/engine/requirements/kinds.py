"""The table of the kinds of requirement: the one place that lists them."""

from collections.abc import Callable, Iterator, Mapping
from typing import Any, NamedTuple

from service.engine.documents import Flaw
from service.engine.requirements import age, attributes, declared, each, mean, net_content, rate, spread, variables
from service.engine.requirements.grade_context import GradeContext

Requirement = (
    each.Each
    | mean.Mean
    | spread.Spread
    | variables.Variables
    | declared.Declared
    | age.Age
    | net_content.NetContent
    | attributes.Attributes
    | rate.Rate
)
"""Any requirement as a specification writes it; `kind` says which."""
CompiledRequirement = (
    each.EachRule
    | mean.MeanRule
    | spread.SpreadRule
    | variables.VariablesRule
    | declared.DeclaredRule
    | age.AgeRule
    | net_content.NetContentRule
    | attributes.AttributesRule
    | rate.RateRule
)
"""The same without flaws, ready to judge."""


class Kind(NamedTuple):
    """What a kind knows: the flaws of its document among its surroundings, by pointer, and how it compiles."""

    flaws: Callable[[Any, GradeContext, str], Iterator[Flaw]]
    compiled: Callable[[Any, GradeContext, str], CompiledRequirement]


ENGINE_1: Mapping[type[Requirement], Kind] = {
    each.Each: Kind(each.flaws, each.compiled),
    mean.Mean: Kind(mean.flaws, mean.compiled),
    spread.Spread: Kind(spread.flaws, spread.compiled),
    variables.Variables: Kind(variables.flaws, variables.compiled),
    declared.Declared: Kind(declared.flaws, declared.compiled),
    age.Age: Kind(age.flaws, age.compiled),
    net_content.NetContent: Kind(net_content.flaws, net_content.compiled),
    attributes.Attributes: Kind(attributes.flaws, attributes.compiled),
    rate.Rate: Kind(rate.flaws, rate.compiled),
}
"""The kinds that the engine of this number knows; a new one is a module, its place in the two types above, and a line here."""
