"""The source of k for acceptance by variables: the grade itself, a content and a confidence, or the sample's plan."""

from collections.abc import Iterator
from fractions import Fraction
from typing import Annotated, NamedTuple

from msgspec import UNSET, Meta, Struct, UnsetType

from service.engine.characteristics import CompiledCharacteristic
from service.engine.documents import Flaw, listed, number_flaws
from service.engine.numbers import exact, plain
from service.engine.requirements.documents import Limited, NotNegative
from service.engine.sampling import LotSize, NoPlan, Sample

HUNDRED = 100
Percentage = Annotated[float, Meta(gt=0, lt=100)]


class AcceptedByQuality(Limited, frozen=True, kw_only=True):
    """The members of a requirement on the quality statistic that determine its k."""

    k: NotNegative | UnsetType = UNSET
    content: Percentage | UnsetType = UNSET
    """The least share of the lot, in percent, that is to be within each limit."""
    confidence: Percentage | UnsetType = UNSET
    """The confidence in that, in percent; k is then the one-sided tolerance factor for the number of values sent."""
    sigma: Annotated[float, Meta(gt=0)] | UnsetType = UNSET
    """The standard deviation of the process where it is known, in the characteristic's unit; it replaces s."""
    each_by_k: bool | UnsetType = UNSET
    """True to compare each of two limits with the k of a plan or of a content, which is made for one limit."""


class FoundK(NamedTuple):
    """The k for one lot."""

    k: Fraction
    words: str
    """What asks for it, in a sentence: `the plan asks for at least 1.53`."""
    letter: str | None
    pointer: str
    """The pointer of its source in the specification."""


class GivenK(Struct, frozen=True):
    """A k that the grade gives."""

    k: Fraction
    pointer: str

    def k_for(self, lot: LotSize, values: int) -> FoundK:
        """The given k, for every lot."""
        return FoundK(self.k, f"the grade asks for at least {plain(self.k)}", None, self.pointer)


class ContentK(Struct, frozen=True):
    """A one-sided tolerance factor for a content and a confidence, which are shares between 0 and 1."""

    content: Fraction
    confidence: Fraction
    sigma_is_known: bool
    pointer: str

    def k_for(self, lot: LotSize, values: int) -> FoundK:
        """The factor for this number of values, to four decimals."""
        # Each of the four decimals is certain, and that numeral is compared, so that a reader can repeat the comparison.
        # The special functions are loaded by the first grade that needs them, not at every start.
        from service.engine.risks.tolerance import tolerance_factor

        k = tolerance_factor(values, self.content, self.confidence, sigma_is_known=self.sigma_is_known)
        content, confidence = plain(self.content * HUNDRED), plain(self.confidence * HUNDRED)
        words = f"{values} values need at least {plain(k)} for {content} % of the lot with {confidence} % confidence"
        return FoundK(k, words, None, self.pointer)


class PlanK(Struct, frozen=True):
    """The k of the sample's plan."""

    sample: Sample
    pointer: str

    def k_for(self, lot: LotSize, values: int) -> FoundK | NoPlan:
        """The k for the size of the lot; NoPlan where the plan has none for it."""
        plan = self.sample.variables_plan(lot)
        if isinstance(plan, NoPlan):
            return plan
        letter = f"letter {plan.letter}, " if plan.letter else ""
        words = f"the plan ({letter}a sample of {plan.packages}) asks for at least {plain(plan.k)}"
        return FoundK(plan.k, words, plan.letter, self.pointer)


KSource = GivenK | ContentK | PlanK


def k_source_of(document: AcceptedByQuality, of: CompiledCharacteristic, pointer: str) -> KSource:
    """The source of k of a requirement without flaws."""
    if not isinstance(document.k, UnsetType):
        return GivenK(exact(document.k), f"{pointer}/k")
    if not isinstance(document.content, UnsetType) and not isinstance(document.confidence, UnsetType):
        shares = exact(document.content) / HUNDRED, exact(document.confidence) / HUNDRED
        return ContentK(*shares, document.sigma is not UNSET, f"{pointer}/content")
    sample = document.sample or of.sample
    assert sample
    return PlanK(sample, f"{pointer if document.sample else of.pointer}/sample")


def k_flaws(document: AcceptedByQuality, of: CompiledCharacteristic, at: str) -> Iterator[Flaw]:
    """The document gives one source of k; a k that is made for one limit is on two only where `each_by_k` is true."""
    sample = document.sample or of.sample
    plan = "plan" if sample and "variables" in sample.accepts_by else None
    given = [name for name in ("k", "content", "confidence") if getattr(document, name) is not UNSET]
    if not given and not plan:
        text = "The `k` to accept by is missing. Give it, or a `content` with a `confidence`, or a plan by variables."
        yield Flaw("missing-field", text, f"{at}/k")
    elif plan and given:
        text = f"The sample's plan has its own k. Remove {listed(given, 'and')}, or use a sample that is only a size."
        yield Flaw("k-in-two-ways", text, f"{at}/{given[0]}")
    elif "k" in given and len(given) > 1:
        text = f"`k` is given, so it is not calculated. Remove {listed(given[1:], 'and')}, or `k`."
        yield Flaw("k-in-two-ways", text, f"{at}/{given[1]}")
    elif len(given) == 1 and "k" not in given:
        other = "confidence" if given[0] == "content" else "content"
        yield Flaw("missing-field", f"`{given[0]}` needs a `{other}`, which is missing. Add it.", f"{at}/{other}")
    for name in given:
        yield from number_flaws(getattr(document, name), f"{at}/{name}")
    yield from _two_limits_flaws(document, at, is_given="k" in given)
    # A plan's k is for an unknown deviation; where the deviation is known, the same risks need another k.
    if plan and document.sigma is not UNSET:
        text = "The k of the plan is for an unknown standard deviation. Remove `sigma`, or give `k` or a `content`."
        yield Flaw("sigma-not-here", text, f"{at}/sigma")


def _two_limits_flaws(document: AcceptedByQuality, at: str, *, is_given: bool) -> Iterator[Flaw]:
    """Source: MIL-STD-414 has no Form 1 for two limits; to hold each by k is another rule (from memory)."""
    limits = document.limits
    has_lower = any(member is not UNSET for member in (limits.lower, limits.above, limits.minus))
    has_upper = any(member is not UNSET for member in (limits.upper, limits.below, limits.plus))
    if not is_given and has_lower and has_upper and document.each_by_k is not True:
        text = (
            "This k is made for one limit, and there are two. "
            "Set `each_by_k` to true to compare both with it, or remove one limit."
        )
        yield Flaw("each-by-k", text, f"{at}/each_by_k")
