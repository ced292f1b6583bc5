"""Remarks on readings: what a grade does with them, and which readings are so taken, set aside or left out."""

from collections.abc import Collection, Iterator, Sequence
from typing import Annotated, Literal, NamedTuple

from msgspec import UNSET, Meta, Struct, UnsetType
from msgspec.structs import replace

from service.engine.characteristics import CompiledCharacteristic, Readings
from service.engine.documents import Flaw, Quantity, Reason, Remark, Series, counted, listed, number_flaws
from service.engine.lot.lot import OutsideMarks

OfSpecimen = Literal["broke_at_clamp", "broke_at_splice", "broke_outside_marks", "slipped", "machine_limit"]
"""A remark whose bearing the grade must tell."""
STRUCK: Remark = "struck"
CONFIRMED: Remark = "confirmed"
OUTSIDE_MARKS: Remark = "broke_outside_marks"
EVERYWHERE_ALIKE = frozenset({"", STRUCK, CONFIRMED})
"""What these do is no matter of the grade."""


class Share(Struct, frozen=True, forbid_unknown_fields=True):
    """A share of a limit."""

    percent: Annotated[float, Meta(gt=0, le=100)]


class RemarkRules(Struct, frozen=True, forbid_unknown_fields=True):
    """What remarks on the readings of a characteristic do; one that is not told of leaves the requirements on it undecided."""

    leave_out: list[OfSpecimen] | UnsetType = UNSET
    """The reading is left out, and another is asked for."""
    passes_outside_marks_at: Share | UnsetType = UNSET
    """A specimen that `broke_outside_marks` meets a lower limit from this share of it on; its true force is not known.

    Source: ISO 2307:2010, 9.7.2, where the share is 90 %.
    """


class RemarkedReadings(NamedTuple):
    """The readings of one characteristic as its grade takes them."""

    kept: Readings | None
    """Those that enter every statistic; None where there is none."""
    counting: Readings | None
    """These and those outside the marks, in the order sent."""
    outside_marks: OutsideMarks | None = None
    """Those whose true force is not known, which count where each reading is judged."""
    confirmed: frozenset[int] = frozenset()
    """The numbers of those counting that were looked at again and found right."""
    untold: Reason | None = None
    """Why nothing can be said, where the grade does not tell what a remark does."""


def remark_flaws(rules: RemarkRules, quantity: Quantity | None, at: str) -> Iterator[Flaw]:
    """One rule a remark; the rule on breaks outside the marks is one of forces."""
    share, at_share = rules.passes_outside_marks_at, f"{at}/passes_outside_marks_at"
    if isinstance(share, UnsetType):
        return
    yield from number_flaws(share.percent, f"{at_share}/percent")
    if OUTSIDE_MARKS in (rules.leave_out or ()):
        text = (
            f"`{OUTSIDE_MARKS}` is left out and passes by a rule of its own. Take it out of `leave_out`, or leave the rule out."
        )
        yield Flaw("remark-in-two-ways", text, at_share)
    if quantity not in {"force", None}:
        text = "Only of a force is it known what a break outside the marks tells. Leave the rule out."
        yield Flaw("outside-marks-not-force", text, at_share)


def column_flaws(series: Series, at: str) -> Iterator[Flaw]:
    """One remark a value; a composite specimen is of no one package."""
    if not isinstance(series.remarks, UnsetType) and len(series.remarks) != len(series.values):
        numbers = f"{counted(len(series.values), 'value')} and {counted(len(series.remarks), 'remark')}"
        text = f'The series has {numbers}. Give each value one, `""` where nothing was seen, or leave `remarks` out.'
        yield Flaw("remarks-differ-in-number", text, f"{at}/remarks")
    if series.packages and (series.packages_per_specimen or 1) > 1:
        made_up = f"Each value is of a specimen made up of {series.packages_per_specimen} packages"
        text = f"{made_up}, and `packages` names one a value. Leave one of the two out."
        yield Flaw("composite-of-one-package", text, f"{at}/packages_per_specimen")


def is_struck(series: Series, place: int) -> bool:
    """Whether the value at this place is as if it had not been sent."""
    remarks = series.remarks or ()
    return place < len(remarks) and remarks[place] == STRUCK


def without_struck(series: Series) -> Series:
    """The same series as if the struck readings had not been sent."""
    places = standing(series)
    if len(places) == len(series.values):
        return series
    return replace(
        series,
        values=[series.values[place] for place in places],
        packages=[series.packages[place] for place in places] if series.packages else UNSET,
        remarks=[series.remarks[place] for place in places] if series.remarks else UNSET,
    )


def standing(series: Series) -> Sequence[int]:
    """The places of the readings that were not struck."""
    return [place for place in range(len(series.values)) if not is_struck(series, place)]


def taken(present: Readings, remarks: Sequence[Remark], of: CompiledCharacteristic) -> RemarkedReadings:
    """The readings as the grade takes them.

    present  all that were not struck
    remarks  one a reading, `""` where nothing was seen
    """
    rules = of.precautions
    apart = {OUTSIDE_MARKS} if rules.outside_marks_at is not None else set()
    numbers = [number for number, remark in enumerate(remarks) if remark not in rules.left_out]
    counting = present.picked(numbers)
    outside_marks = present.picked([number for number in numbers if remarks[number] in apart])
    return RemarkedReadings(
        kept=present.picked([number for number in numbers if remarks[number] not in apart]),
        counting=counting,
        outside_marks=OutsideMarks(outside_marks, counting) if outside_marks and counting else None,
        confirmed=frozenset(place for place, number in enumerate(numbers) if remarks[number] == CONFIRMED),
        untold=_untold(present, remarks, EVERYWHERE_ALIKE | rules.left_out | apart, of),
    )


def _untold(present: Readings, remarks: Sequence[Remark], told: Collection[str], of: CompiledCharacteristic) -> Reason | None:
    """The grade does not say what some remarks do."""
    numbers = [number for number, remark in enumerate(remarks) if remark not in told]
    if not numbers:
        return None
    words = sorted({remarks[number] for number in numbers})
    readings = f"{counted(len(numbers), 'reading')} of {of.words} {'is' if len(numbers) == 1 else 'are'}"
    text = (
        f"{readings} remarked {listed(words, 'and')}, and the grade does not say what that does. Say it in `remarks` of the "
        f"characteristic, or strike the {'reading' if len(numbers) == 1 else 'readings'}."
    )
    return Reason(
        "remark-without-rule",
        text,
        {"remarks": words, "readings": len(numbers)},
        of.pointer,
        *present.pointers(numbers, "readings"),
    )
