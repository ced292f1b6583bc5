"""The results of a verdict for the switching rules, in the form stored beside the verdict."""

from collections.abc import Mapping

import msgspec
from msgspec import Struct

from service.engine.documents import Inspection
from service.engine.switching.following import Inspected
from service.engine.switching.results import Subject


class StoredResult(Struct, frozen=True, kw_only=True):
    """The result of one class, or of one requirement by variables, of one lot."""

    sort: str
    """`class` or `requirement`."""
    name: str
    inspection: Inspection
    accepted: bool
    in_gap: bool
    resubmitted: bool


_decode = msgspec.json.Decoder(list[StoredResult]).decode
_encode = msgspec.json.Encoder().encode


def encoded_results(results: Mapping[Subject, Inspected]) -> bytes:
    """The results of a lot as JSON, in their order; `decoded_results` is the inverse."""
    return _encode([_stored(subject, inspected) for subject, inspected in results.items()])


def decoded_results(lot: str, results: bytes) -> dict[Subject, Inspected]:
    """The results of this lot from JSON, in the order stored. Raises msgspec.DecodeError for anything else."""
    return {Subject(each.sort, each.name): _inspected(lot, each) for each in _decode(results)}


def _stored(subject: Subject, inspected: Inspected) -> StoredResult:
    return StoredResult(
        sort=subject.sort,
        name=subject.name,
        inspection=inspected.inspection,
        accepted=inspected.accepted,
        in_gap=inspected.in_gap,
        resubmitted=inspected.resubmitted,
    )


def _inspected(lot: str, stored: StoredResult) -> Inspected:
    return Inspected(
        lot=lot,
        inspection=stored.inspection,
        accepted=stored.accepted,
        in_gap=stored.in_gap,
        resubmitted=stored.resubmitted,
    )
