"""The digest of evidence: RFC 8785's form of the document as sent, each column of values replaced by a digest of its doubles.

A verdict so names the very evidence that it rests on, and a column of 100,000 readings costs one pass over its bytes.
"""

import struct
from collections.abc import Sequence
from typing import TYPE_CHECKING

import msgspec
from msgspec import UNSET, Struct, UnsetType

from service.engine.digests import canonical, digest_of
from service.engine.evidence import DeclaredValue, Evidence, Lot

if TYPE_CHECKING:
    from service.engine.columns.long import Doubles


class _Series(Struct, frozen=True):
    """A series with its members in RFC 8785's order."""

    characteristic: str
    packages: list[str] | UnsetType
    unit: str
    values: str


class _Evidence(Struct, frozen=True):
    """Evidence with its members in RFC 8785's order; `id` stands before `size` in Lot as it is."""

    declared: msgspec.Raw | UnsetType
    lot: Lot
    series: list[_Series] | UnsetType


_encode = msgspec.json.Encoder().encode


def evidence_digest(evidence: Evidence, arrays: "Sequence[Doubles | None]") -> str:
    """`sha256:…` of the evidence.

    arrays  for each series its values as an array where they are many, else None

    msgspec writes texts and whole numbers as RFC 8785 wants them, but not every other number: declared ones go the long way.
    """
    series: list[_Series] | UnsetType = UNSET
    if not isinstance(evidence.series, UnsetType):
        columns = zip(evidence.series, arrays, strict=True)
        series = [
            _Series(each.characteristic, each.packages, each.unit, _values_digest(each.values, array))
            for each, array in columns
        ]
    declared = UNSET if isinstance(evidence.declared, UnsetType) else _declared(evidence.declared)
    return digest_of(_encode(_Evidence(declared, evidence.lot, series)))


def _declared(declared: Sequence[DeclaredValue]) -> msgspec.Raw:
    return msgspec.Raw(canonical(msgspec.to_builtins(declared)))


def _values_digest(values: Sequence[float], array: "Doubles | None") -> str:
    """`sha256:…` of the doubles, IEEE 754, big-endian, −0 as 0."""
    if array is not None:
        return digest_of(array.astype(">f8").tobytes())
    # Adding 0 turns −0 into 0 and changes nothing else.
    return digest_of(struct.pack(f">{len(values)}d", *[value + 0.0 for value in values]))
