"""Batches of readings as they are sent: a JSON document, or rows with everything else in the query."""

from collections.abc import Callable, Iterator, Mapping
from typing import Any
from urllib.parse import parse_qsl

import msgspec
from msgspec import UNSET, Struct, UnsetType

from service.api.bodies.documents import FindFlaws, StrictDTO, check_items
from service.api.bodies.receiving import StrictRequest
from service.api.exchanges import exchange_of
from service.api.lots.rows import Columns, Row, check_lines, columns_of, rows_of_csv, rows_of_ndjson
from service.api.lots.shown import Lots
from service.api.moments import Moment
from service.api.operations import CSV, NDJSON, media_type_of
from service.api.strict.decoding import Shape, decode_async
from service.engine.documents import Flaw, FlawedDocumentError
from service.engine.ledger import Batch
from service.usecases.judging import check_readings
from service.usecases.lots import readings as records
from service.usecases.threads import read_in_thread

Reader = Callable[[bytes], Iterator[Row]]
_READERS: Mapping[str, Reader] = {NDJSON: rows_of_ndjson, CSV: rows_of_csv}
MANY_ROWS = 16 * 1024
"""Bytes: rows up to this length take at most five milliseconds and are parsed on the event loop, longer ones in a thread."""


class SentBatch(Struct, frozen=True):
    """A batch, and the rows that it was sent as."""

    batch: Batch
    columns: Columns | None = None
    """None for a batch sent as JSON."""

    def row_flaw(self, flaw: Flaw) -> Flaw:
        """The flaw with its pointer at the row where it was sent as rows; unchanged for JSON."""
        return self.columns.row_flaw(flaw) if self.columns else flaw


class BatchDTO(StrictDTO[Batch]):
    """Reads a batch by the Content-Type of its body: JSON, NDJSON or CSV."""

    shape = Shape(Batch)

    @classmethod
    async def read(cls, request: StrictRequest, find_flaws: FindFlaws | None, most_readings: int) -> Any:  # a SentBatch
        """Decode a SentBatch. Raises NotJsonError, FlawedDocumentError."""
        content_type = exchange_of(request.scope).header(b"content-type") or ""
        query = dict(parse_qsl(request.scope["query_string"].decode(), keep_blank_values=True))
        read = _READERS.get(media_type_of(content_type))
        if read is None:
            check_items(request.raw_body, most_readings)
            return SentBatch(await _from_json(request.raw_body, query, cls.shape))
        return await _from_rows(read, request.raw_body, query, most_readings)


async def record_batch(lots: Lots, lot: str, sent: SentBatch, by: str) -> records.RecordedReadings:
    """Record a batch, which is counted once. Raises FlawedDocumentError, with pointers at rows where it was sent as rows."""
    check_readings(sent.batch.series, lots.most_readings, "" if sent.columns else "/series")
    try:
        return await records.record_batch(lots.ledger, lots.grade_cache, lot, sent.batch, by)
    except FlawedDocumentError as error:
        raise FlawedDocumentError([sent.row_flaw(flaw) for flaw in error.flaws]) from error


async def _from_json(body: bytes, query: Mapping[str, str], shape: Shape[Batch]) -> Batch:
    """A batch in JSON; the query must be empty, as the document has its members. Raises NotJsonError, FlawedDocumentError."""
    text = "With JSON this belongs in the body. Move it there."
    if flaws := [Flaw("not-with-json", text, f"/{name}") for name in query]:
        raise FlawedDocumentError(flaws)
    return await decode_async(body, shape)


async def _from_rows(read: Reader, body: bytes, query: Mapping[str, str], most_readings: int) -> SentBatch:
    """A batch sent as rows, with its id and other members in the query. Raises FlawedDocumentError."""
    if "batch" not in query:
        text = "The rows have no id of their batch. Add `batch` to the query."
        raise FlawedDocumentError([Flaw("missing-parameter", text, "/batch")])
    fields: dict[str, Any] = dict(query)
    method: str | UnsetType = fields.pop("method", UNSET)
    if "measured_at" in fields:
        # Can't fail: `Receiving` has checked the query.
        fields["measured_at"] = msgspec.convert(fields["measured_at"], Moment)
    check_lines(body, most_readings)
    columns = await read_in_thread(_columns, read, body, method) if len(body) >= MANY_ROWS else _columns(read, body, method)
    return SentBatch(Batch(**fields, series=columns.series), columns)


def _columns(read: Reader, body: bytes, method: str | UnsetType) -> Columns:
    """The series of the rows in a body."""
    return columns_of(read(body), method)
