"""The body of a check: one reading against a grade, which is what stations wait on, or one of a lot."""

from typing import Any

from litestar.params import JSONBody

from service.api.bodies.documents import FindFlaws, StrictDTO
from service.api.bodies.receiving import StrictRequest
from service.api.judging.documents import ReadingToCheck
from service.api.strict.decoding import MisshapenError, Shape, decode_async
from service.engine.documents import Check
from service.usecases.lots import CheckOfLot

BY_GRADE, OF_LOT = Shape(Check), Shape(CheckOfLot)
BACKSLASH = ord("\\")


def may_name_lot(body: bytes) -> bool:
    """False only if it has no member `lot`, whose name may be written with escapes."""
    # Every check pays for this: a byte as its number, and `find`, take less than half of what two texts with `in` take.
    return BACKSLASH in body or body.find(b'"lot"') >= 0


async def decode_check(body: bytes) -> Check | CheckOfLot:
    """The check that the bytes write; it is one of a lot where it has the member `lot`. Raises as `decode` does."""
    try:
        return await decode_async(body, OF_LOT)
    except MisshapenError as error:
        if isinstance(error.value, dict) and "lot" in error.value:
            raise
    return await decode_async(body, BY_GRADE)


AnyCheck = JSONBody[Check | CheckOfLot]
"""What a handler is given; the contract has one document for both."""


class CheckDTO(StrictDTO[ReadingToCheck]):
    """A check is one of two documents, told apart by the member `lot`."""

    shape = BY_GRADE

    @classmethod
    async def read(cls, request: StrictRequest, find_flaws: FindFlaws | None, most_readings: int) -> Any:  # one of two
        """The check."""
        if may_name_lot(request.raw_body):
            return await decode_check(request.raw_body)
        return await decode_async(request.raw_body, BY_GRADE)
