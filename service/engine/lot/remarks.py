"""Remarks on readings: the rules of a grade on them, and the readings that enter statistics, are set aside or are left out."""

from collections.abc import Collection, Iterator, Sequence
from typing import Annotated, Literal, NamedTuple

from msgspec import UNSET, Meta, Struct, UnsetType
from msgspec.structs import replace

from service.engine.characteristics import CompiledCharacteristic, Readings
from service.engine.documents import Flaw, Quantity, Reason, Remark, Series, counted, listed, number_flaws
from service.engine.lot.lot import OutsideMarks

SpecimenRemark = Literal["broke_at_clamp", "broke_at_splice", "broke_outside_marks", "slipped", "machine_limit"]
"""A remark on a specimen: the grade must state what it does."""
STRUCK: Remark = "struck"
CONFIRMED: Remark = "confirmed"
OUTSIDE_MARKS: Remark = "broke_outside_marks"
NEED_NO_RULE = frozenset({"", STRUCK, CONFIRMED})
"""Remarks that mean the same in every grade."""


class Share(Struct, frozen=True, forbid_unknown_fields=True):
    """A share of a limit, in percent."""

    percent: Annotated[float, Meta(gt=0, le=100)]


class RemarkRules(Struct, frozen=True, forbid_unknown_fields=True):
    """What remarks on readings of a characteristic do; a remark without a rule leaves the requirements on it undecided."""

    leave_out: list[SpecimenRemark] | UnsetType = UNSET
    """Readings with these remarks are left out, and others are needed to complete the sample."""
    passes_outside_marks_at: Share | UnsetType = UNSET
    """A specimen that `broke_outside_marks` meets a lower limit if it reaches this share of it; its true force is not known.

    Source: ISO 2307:2010, 9.7.2, where the share is 90 %.
    """


class RemarkedReadings(NamedTuple):
    """The readings of one characteristic after its grade's rules on remarks."""

    in_statistics: Readings | None
    """Those that enter every statistic; None where there are none."""
    counting: Readings | None
    """Those in statistics and those outside the marks, in the order sent; None where there are none."""
    outside_marks: OutsideMarks | None = None
    """Those whose true force is not known; they count only where single readings are judged."""
    confirmed: frozenset[int] = frozenset()
    """Indices into `counting` of the readings that were checked again and found right."""
    without_rule: Reason | None = None
    """The reason for which nothing can be judged, where the grade has no rule on a remark."""


def remark_flaws(rules: RemarkRules, quantity: Quantity | None, at: str) -> Iterator[Flaw]:
    """The flaws of a grade's rules: a remark has one rule, and the rule on breaks outside the marks is for forces only.

    at  JSON Pointer of the rules in the specification
    """
    share, at_share = rules.passes_outside_marks_at, f"{at}/passes_outside_marks_at"
    if isinstance(share, UnsetType):
        return
    yield from number_flaws(share.percent, f"{at_share}/percent")
    if OUTSIDE_MARKS in (rules.leave_out or ()):
        text = f"`{OUTSIDE_MARKS}` is in `leave_out` and has a rule of its own. Remove it from `leave_out`, or remove the rule."
        yield Flaw("remark-in-two-ways", text, at_share)
    if quantity not in {"force", None}:
        text = "A break outside the marks is known to mean something for a force only. Remove the rule."
        yield Flaw("outside-marks-not-force", text, at_share)


def remark_column_flaws(series: Series, at: str) -> Iterator[Flaw]:
    """The flaws of remarks and composite specimens: one remark a value, and no package id on a specimen of several packages."""
    if not isinstance(series.remarks, UnsetType) and len(series.remarks) != len(series.values):
        numbers = f"{counted(len(series.values), 'value')} and {counted(len(series.remarks), 'remark')}"
        text = f'The series has {numbers}. Give one for each value, `""` where nothing was seen, or remove `remarks`.'
        yield Flaw("remarks-differ-in-number", text, f"{at}/remarks")
    if series.packages and (series.packages_per_specimen or 1) > 1:
        made_up = f"Each value is of a specimen made up of {series.packages_per_specimen} packages"
        text = f"{made_up}, and `packages` names one for each value. Remove one of the two."
        yield Flaw("composite-of-one-package", text, f"{at}/packages_per_specimen")


def is_struck(series: Series, place: int) -> bool:
    """True where the value at this index is struck, so that it counts as not sent."""
    # The column may be too short, which is a flaw that is found elsewhere.
    remarks = series.remarks or ()
    return place < len(remarks) and remarks[place] == STRUCK


def without_struck(series: Series) -> Series:
    """The series without its struck readings; the same object where none are."""
    places = places_not_struck(series)
    if len(places) == len(series.values):
        return series
    return replace(
        series,
        values=[series.values[place] for place in places],
        packages=[series.packages[place] for place in places] if series.packages else UNSET,
        remarks=[series.remarks[place] for place in places] if series.remarks else UNSET,
    )


def places_not_struck(series: Series) -> Sequence[int]:
    """The indices of the readings that are not struck."""
    return [place for place in range(len(series.values)) if not is_struck(series, place)]


def apply_remark_rules(present: Readings, remarks: Sequence[Remark], of: CompiledCharacteristic) -> RemarkedReadings:
    """The readings after the rules of the characteristic's grade.

    present  all readings that are not struck
    remarks  one a reading, `""` for no remark
    """
    rules = of.precautions
    # Without the rule on it a break outside the marks is a remark like others: left out, or without a rule.
    apart = {OUTSIDE_MARKS} if rules.outside_marks_at is not None else set()
    numbers = [number for number, remark in enumerate(remarks) if remark not in rules.left_out]
    counting = present.picked(numbers)
    outside_marks = present.picked([number for number in numbers if remarks[number] in apart])
    return RemarkedReadings(
        in_statistics=present.picked([number for number in numbers if remarks[number] not in apart]),
        counting=counting,
        outside_marks=OutsideMarks(outside_marks, counting) if outside_marks and counting else None,
        confirmed=frozenset(place for place, number in enumerate(numbers) if remarks[number] == CONFIRMED),
        without_rule=_remark_without_rule(present, remarks, NEED_NO_RULE | rules.left_out | apart, of),
    )


def _remark_without_rule(
    present: Readings, remarks: Sequence[Remark], with_rule: Collection[str], of: CompiledCharacteristic
) -> Reason | None:
    """The reason on readings whose remark is not one of `with_rule`; None where there are none."""
    numbers = [number for number, remark in enumerate(remarks) if remark not in with_rule]
    if not numbers:
        return None
    words = sorted({remarks[number] for number in numbers})
    readings = f"{counted(len(numbers), 'reading')} of {of.words} {'is' if len(numbers) == 1 else 'are'}"
    text = (
        f"{readings} remarked {listed(words, 'and')}, and the grade has no rule on that. Add one in `remarks` of the "
        f"characteristic, or strike the {'reading' if len(numbers) == 1 else 'readings'}."
    )
    return Reason(
        "remark-without-rule",
        text,
        {"remarks": words, "readings": len(numbers)},
        of.pointer,
        *present.pointers(numbers, "readings"),
    )
