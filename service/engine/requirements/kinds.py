"""The table of the kinds of requirement, which is the only list of them."""

from collections.abc import Callable, Iterator, Mapping
from typing import Any, NamedTuple

from service.engine.documents import Flaw
from service.engine.requirements import (
    age,
    attributes,
    attributes_document,
    declared,
    each,
    mean,
    net_content,
    rate,
    spread,
    variables,
)
from service.engine.requirements.grade_context import GradeContext

Requirement = (
    each.Each
    | mean.Mean
    | spread.Spread
    | variables.Variables
    | declared.Declared
    | age.Age
    | net_content.NetContent
    | attributes_document.Attributes
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
"""Any compiled requirement."""


class Kind(NamedTuple):
    """The two functions of a kind: both get the document, the grade around it, and its pointer in the specification."""

    flaws: Callable[[Any, GradeContext, str], Iterator[Flaw]]
    compiled: Callable[[Any, GradeContext, str], CompiledRequirement]


# A rule is stated once, in `judge` of the compiled requirement: checks, verdicts, replays and the state of open lots call it.
ENGINE_1: Mapping[type[Requirement], Kind] = {
    each.Each: Kind(each.flaws, each.compiled),
    mean.Mean: Kind(mean.flaws, mean.compiled),
    spread.Spread: Kind(spread.flaws, spread.compiled),
    variables.Variables: Kind(variables.flaws, variables.compiled),
    declared.Declared: Kind(declared.flaws, declared.compiled),
    age.Age: Kind(age.flaws, age.compiled),
    net_content.NetContent: Kind(net_content.flaws, net_content.compiled),
    attributes_document.Attributes: Kind(attributes_document.flaws, attributes.compiled),
    rate.Rate: Kind(rate.flaws, rate.compiled),
}
"""The kinds of engine 1, by document type. A new kind is a module, a member of the two unions above, and a line here."""
