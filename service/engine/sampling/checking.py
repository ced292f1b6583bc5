"""What can be wrong with a plan in a grade, whatever it is put on."""

from collections.abc import Iterator
from itertools import pairwise

from msgspec import UnsetType

from service.engine.amounts import amount_unit_flaws
from service.engine.bounds import number_flaws
from service.engine.flaws import Flaw, counted
from service.engine.sampling import Bands, Percent, Sample, SquareRoot
from service.engine.sampling.plans import Share


def sample_flaws(sample: Sample, at: str) -> Iterator[Flaw]:
    """The numbers of a plan are in range and agree with each other."""
    match sample:
        case Percent():
            yield from number_flaws(sample.percent, f"{at}/percent")
            yield from _share_flaws(sample, at)
        case SquareRoot():
            yield from number_flaws(sample.factor, f"{at}/factor")
            yield from _share_flaws(sample, at)
        case Bands():
            yield from _bands_flaws(sample, at)


def _share_flaws(sample: Share, at: str) -> Iterator[Flaw]:
    """At least is not above at most; what a lot is counted in is a length or a mass."""
    if sample.at_least and sample.at_most and sample.at_least > sample.at_most:
        text = (
            f"The plan takes at least {counted(sample.at_least, 'package')} and at most {sample.at_most}. Correct one of them."
        )
        yield Flaw("at-least-above-at-most", text, f"{at}/at_most")
    if not isinstance(sample.counted_in, UnsetType):
        what = "a lot is counted in pieces of so much length or mass"
        yield from amount_unit_flaws(sample.counted_in, ("length", "mass"), what, f"{at}/counted_in")
        yield from number_flaws(sample.counted_in.value, f"{at}/counted_in/value")


def _bands_flaws(sample: Bands, at: str) -> Iterator[Flaw]:
    """Each band ends above the one before, and only the last has no end."""
    for number, (before, band) in enumerate(pairwise(sample.bands), 1):
        if isinstance(before.up_to, UnsetType):
            text = "The band has no end, so those after it are never reached. Give it `up_to`, or put it last."
            yield Flaw("band-without-end", text, f"{at}/bands/{number - 1}")
        elif not isinstance(band.up_to, UnsetType) and band.up_to <= before.up_to:
            text = f"The band ends at {counted(band.up_to, 'package')}, and the one before at {before.up_to}. Let them rise."
            yield Flaw("bands-not-rising", text, f"{at}/bands/{number}/up_to")
