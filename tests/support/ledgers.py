"""What tests of the ledger share: a grade that is released, an open lot, batches of single readings, a verdict."""

from typing import Any

import msgspec

from service.engine.documents import Outcome, digest_of
from service.engine.ledger import VERDICT, Batch, Opening, Strike, VerdictRecord, encoded, verdict_key
from service.ports.catalogue import Catalogue
from service.ports.ledger import Decide, Decided, Ledger, NewChange, NewVerdict
from service.usecases.grades import GradeCache
from service.usecases.lots.opening import open_lot
from tests.support.grade_caches import release

GRADE, LOT, BY = "TB-130", "0412-07", "local"
FORCE = {"characteristic": "breaking_force", "unit": "N"}


def batch(key: str, *values: float, **members: Any) -> Batch:
    """A batch of breaking forces in newtons; `of_series` are members of its series."""
    of_series = members.pop("of_series", {})
    document = {"batch": key, "series": [{**FORCE, "values": list(values), **of_series}], **members}
    return msgspec.convert(document, Batch)


def strike(key: str, of: str, *at: str) -> Strike:
    """Readings of a batch struck out."""
    return msgspec.convert({"id": key, "of": of, "at": list(at), "reason": "The specimen slipped."}, Strike)


def with_verdict(number: int, evidence: bytes, verdict: bytes) -> Decide:
    """The decision that records a verdict of these bytes, which pass, on an open lot."""
    told = VerdictRecord(
        number=number,
        outcome=Outcome.PASS,
        revision=1,
        verdict=digest_of(verdict),
        evidence=digest_of(evidence),
        state="closed",
    )
    kept = NewVerdict(number=number, outcome="pass", grade=GRADE, revision=1, evidence=evidence, verdict=verdict)
    change = NewChange(by=BY, kind=VERDICT, key=verdict_key(number), digest=told.verdict, document=encoded(told), verdict=kept)
    return lambda _so_far: Decided(changes=[change])


async def opened(catalogue: Catalogue, ledger: Ledger, lot: str = LOT) -> GradeCache:
    """A grade cache, with a grade released whose mean must be 1400 N, and a lot of it open."""
    grade_cache = GradeCache(catalogue)
    await release(catalogue, grade_cache, GRADE, 1400)
    await open_lot(ledger, grade_cache, lot, Opening(grade=GRADE), BY)
    return grade_cache
