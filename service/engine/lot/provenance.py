"""The digest of evidence: SHA-256 of the document as sent in RFC 8785's form, each column of values replaced by its own digest.

With it a verdict identifies the evidence on which it rests; a column of 100,000 readings costs one pass over its bytes.
"""

import struct
from collections.abc import Sequence
from typing import TYPE_CHECKING

import msgspec
from msgspec import UNSET, Struct, UnsetType

from service.engine.documents import Calibration, Evidence, Lot, Remark, Series, canonical, digest_of, digest_of_parts

if TYPE_CHECKING:
    from service.engine.numbers.columns.long import Doubles


class DigestedSeries(Struct, frozen=True):
    """A series with its members in RFC 8785's order (by name) and the digest of its values in place of the values."""

    calibration: Calibration | UnsetType
    characteristic: str
    method: str | UnsetType
    packages: list[str] | UnsetType
    packages_per_specimen: int | UnsetType
    remarks: list[Remark] | UnsetType
    stage: int | UnsetType
    uncertainty: msgspec.Raw | UnsetType
    unit: str
    values: str


class Digested(Struct, frozen=True):
    """Evidence with its members in RFC 8785's order (by name)."""

    counts: msgspec.Raw | UnsetType
    dates: msgspec.Raw | UnsetType
    declared: msgspec.Raw | UnsetType
    lot: Lot | msgspec.Raw
    series: list[DigestedSeries] | UnsetType


_encode = msgspec.json.Encoder().encode


def evidence_digest(evidence: Evidence, arrays: "Sequence[Doubles | None]") -> str:
    """`sha256:…` of the evidence.

    arrays  one a series: its values as an array where there are `LONG` or more, else None
    """
    lot = evidence.lot
    # msgspec writes texts and integers as RFC 8785 requires, but not every other number, and it does not sort members.
    # A lot of `id` and `size` alone is in order already; everything else goes through `canonical`, which takes longer.
    is_plain = lot.inspection is UNSET and lot.length is UNSET and lot.mass is UNSET and lot.inspections is UNSET
    series: list[DigestedSeries] | UnsetType = UNSET
    if not isinstance(evidence.series, UnsetType):
        series = [_digested(sent, array) for sent, array in zip(evidence.series, arrays, strict=True)]
    document = Digested(
        counts=_sorted(evidence.counts),
        dates=_sorted(evidence.dates),
        declared=_sorted(evidence.declared),
        lot=lot if is_plain else msgspec.Raw(canonical(msgspec.to_builtins(lot))),
        series=series,
    )
    return digest_of(_encode(document))


def _digested(series: Series, array: "Doubles | None") -> DigestedSeries:
    """The series with its values replaced by their digest."""
    return DigestedSeries(
        calibration=series.calibration,
        characteristic=series.characteristic,
        method=series.method,
        packages=series.packages,
        packages_per_specimen=series.packages_per_specimen,
        remarks=series.remarks,
        stage=series.stage,
        uncertainty=_sorted(series.uncertainty),
        unit=series.unit,
        values=_values_digest(series.values, array),
    )


def _sorted(part: Struct | Sequence[Struct] | UnsetType) -> msgspec.Raw | UnsetType:
    """A part of the document in RFC 8785's form; UNSET where it is left out."""
    return UNSET if isinstance(part, UnsetType) else msgspec.Raw(canonical(msgspec.to_builtins(part)))


def _values_digest(values: Sequence[float], array: "Doubles | None") -> str:
    """`sha256:…` of the values as IEEE 754 doubles, big-endian, −0 as 0; `array` has the same values where they are many."""
    if array is not None:
        from service.engine.numbers.columns.long import digest_parts  # numpy only where it pays

        return digest_of_parts(digest_parts(array))
    if 0.0 in values:
        # `in` finds −0 too, which equals 0: adding 0 makes it 0 and changes no other value.
        values = [value + 0.0 for value in values]
    return digest_of(struct.pack(f">{len(values)}d", *values))
