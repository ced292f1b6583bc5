"""What tests of the ledger share: a grade that is released, an open lot, batches of single readings."""

from typing import Any

import msgspec

from service.engine.ledger import Batch, Opening, Strike
from service.ports import Catalogue, Ledger
from service.usecases.ledger.opening import open_lot
from service.usecases.shelf import Shelf
from tests.support.shelves import release

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


async def opened(catalogue: Catalogue, ledger: Ledger, lot: str = LOT) -> Shelf:
    """A shelf, with a grade released whose mean must be 1400 N, and a lot of it open."""
    shelf = Shelf(catalogue)
    await release(catalogue, shelf, GRADE, 1400)
    await open_lot(ledger, shelf, lot, Opening(grade=GRADE), BY)
    return shelf
