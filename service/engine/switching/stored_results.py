"""What a verdict says to switching, as it is kept beside it."""

from collections.abc import Mapping

import msgspec
from msgspec import Struct

from service.engine.documents import Inspection
from service.engine.switching.following import Inspected
from service.engine.switching.results import Subject


class StoredResult(Struct, frozen=True, kw_only=True):
    """What became of one class, or of one requirement by variables, of one lot."""

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
    """The results of a lot as JSON, in their order; `read` gives them back."""
    return _encode([_kept(subject, inspected) for subject, inspected in results.items()])


def decoded_results(lot: str, results: bytes) -> dict[Subject, Inspected]:
    """The results of this lot, as they were written."""
    return {Subject(each.sort, each.name): _inspected(lot, each) for each in _decode(results)}


def _kept(subject: Subject, inspected: Inspected) -> StoredResult:
    return StoredResult(
        sort=subject.sort,
        name=subject.name,
        inspection=inspected.inspection,
        accepted=inspected.accepted,
        in_gap=inspected.in_gap,
        resubmitted=inspected.resubmitted,
    )


def _inspected(lot: str, kept: StoredResult) -> Inspected:
    return Inspected(
        lot=lot,
        inspection=kept.inspection,
        accepted=kept.accepted,
        in_gap=kept.in_gap,
        resubmitted=kept.resubmitted,
    )
