"""What is counted of reading bodies that are made to take long: each at a length, and at twice that.

Run as a program it reads each of them, and marks in between: see `counting`.
"""

import json
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from functools import partial
from typing import Any

from msgspec import UNSET

from service.api.lots.rows import columns_of, rows_of_csv, rows_of_ndjson
from service.api.strict.decoding import MisshapenError, Shape, decode
from service.api.strict.grammar import NotJsonError
from service.api.strict.valid_part import in_document_order
from service.engine.documents import FlawedDocumentError
from service.engine.grade import Specification
from service.engine.ledger import Batch
from service.usecases.judging import LotToJudge
from tests.bench.paths import LOT, SPECIFICATION, mark
from tests.support.hostile import CSV, MADE, NDJSON, TEXTS

BYTES = 12 * 1024
BATCH = b'{"batch": "B1", "series": [{"characteristic": "runnage", "unit": "m/kg", "values": [130.5]}]}'
READ: Mapping[str, tuple[type[Any], bytes]] = {
    "a lot": (LotToJudge, LOT),
    "a specification": (Specification, SPECIFICATION),
    "a batch": (Batch, BATCH),
}


def readings() -> Iterator[tuple[str, Callable[[int], bytes], Callable[[bytes], object]]]:
    """What is read, how a body of a length is made, and what reads it."""
    for what, (of, good) in READ.items():
        read = partial(_read, Shape(of))
        for name, make in MADE.items():
            yield f"{what}, {name}", partial(_made, make, json.loads(good)), read
        for text, write in TEXTS.items():
            yield f"{what}, {text}", partial(write, good), read
    for rows, made in (("CSV", CSV), ("NDJSON", NDJSON)):
        read_rows = rows_of_csv if rows == "CSV" else rows_of_ndjson
        for name, make_rows in made.items():
            yield f"{rows}, {name}", make_rows, partial(_read_rows, read_rows)


def _made(make: Callable[[Any, int], Any], good: Any, number: int) -> bytes:
    return json.dumps(make(good, number)).encode()


def _read(shape: Shape[Any], body: bytes) -> None:
    """As `decode_and_check` does, but for the flaws of meaning."""
    try:
        decode(body, shape)
    except MisshapenError as error:
        error.valid_part()
        in_document_order(error.value, error.flaws)
    except NotJsonError:
        pass


def _read_rows(read: Callable[[bytes], Any], body: bytes) -> None:
    with suppress(FlawedDocumentError):
        columns_of(read(body), UNSET)


def main() -> None:
    """Read each once to have made what is made once, then at both lengths."""
    for _, make, read in readings():
        once, twice = make(BYTES), make(2 * BYTES)
        read(make(BYTES // 2))
        mark()
        read(once)
        mark()
        read(twice)
        mark()


if __name__ == "__main__":
    main()
