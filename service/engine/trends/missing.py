"""The figures that a trend lacks, and what is needed for each."""

from collections.abc import Iterator

from msgspec import UNSET, Struct

from service.engine.trends.documents import Trend


class Lacking(Struct, frozen=True):
    """A figure that cannot be given: a code, and a sentence that says what is needed for it."""

    code: str
    text: str


def lacking(trend: Trend) -> Iterator[Lacking]:
    """What is left out of the trend, and why; empty where nothing is."""
    # Without a lot everything else is lacking for this one reason.
    if not trend.lots:
        text = "No closed lot has a reading that counts here. Close lots, or ask for a longer period."
        yield Lacking("no-lots", text)
        return
    if trend.control is UNSET:
        yield Lacking("one-lot", "There is only one lot, and control limits come from how lots differ. Close another lot.")
    if trend.within is UNSET:
        text = "No lot has two readings, so how readings differ within a lot is not known. Measure two or more of a lot."
        yield Lacking("no-spread-within", text)
    if trend.limits is UNSET:
        text = (
            "The grade has no binding limit on single readings, so there is nothing to compare the spread with. "
            "Add an `each` over readings to the grade."
        )
        yield Lacking("no-limits", text)
    elif trend.performance is UNSET or (trend.within is not UNSET and trend.capability is UNSET):
        text = (
            "The readings do not differ, or do not differ within their lots, or there is only one. "
            "Measure more, or with more decimals."
        )
        yield Lacking("no-spread", text)
