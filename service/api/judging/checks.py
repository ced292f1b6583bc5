"""The body of a check: one reading against a grade, the request that stations wait for, or one reading of a lot."""

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
    """False only if the body has no member `lot`; a backslash counts as one, as the name may be written with escapes."""
    # Every check runs this: `in` with an integer byte and `find` take less than half the time of two `in` with bytes.
    return BACKSLASH in body or body.find(b'"lot"') >= 0


async def decode_check(body: bytes) -> Check | CheckOfLot:
    """Decode a check: one of a lot where it has the member `lot`. Raises NotJsonError, FlawedDocumentError."""
    try:
        return await decode_async(body, OF_LOT)
    # Tried in this order as hardly any other body gets here; one without `lot` is decoded anew for flaws against a grade.
    except MisshapenError as error:
        if isinstance(error.value, dict) and "lot" in error.value:
            raise
    return await decode_async(body, BY_GRADE)


AnyCheck = JSONBody[Check | CheckOfLot]
"""The handler's `data`; the OpenAPI document has one schema for both, ReadingToCheck."""


class CheckDTO(StrictDTO[ReadingToCheck]):
    """Decodes a check as one of two documents, told apart by the member `lot`."""

    shape = BY_GRADE

    @classmethod
    async def read(cls, request: StrictRequest, find_flaws: FindFlaws | None, most_readings: int) -> Any:  # one of two
        """Decode the check; its flaws of meaning are found by the use case. Raises NotJsonError, FlawedDocumentError."""
        if may_name_lot(request.raw_body):
            return await decode_check(request.raw_body)
        return await decode_async(request.raw_body, BY_GRADE)
