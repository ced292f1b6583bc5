"""The register of instruments, and its marks on batches that name one."""

from collections.abc import Sequence
from datetime import date
from functools import partial
from typing import NamedTuple

import msgspec
from msgspec.structs import asdict

from service.engine.documents import Flaw, FlawedDocumentError
from service.engine.grade import CompiledGrade
from service.engine.ledger import Batch, Instrument, MarkedBatch, encoded, instrument_flaws, marks_on, measuring_flaws
from service.ports.instruments import Due, InstrumentRow, Instruments
from service.ports.ledger import Ledger, PendingLot
from service.usecases.paging import MOST_AT_ONCE, part

instrument_of = msgspec.json.Decoder(Instrument).decode
"""Decodes the document of a stored version."""


class InstrumentPage(NamedTuple):
    """Instruments in order of id, and the id to continue after; "" on the last page."""

    instruments: Sequence[InstrumentRow]
    after: str


async def put_instrument(instruments: Instruments, name: str, document: Instrument, by: str) -> tuple[InstrumentRow, bool]:
    """Store a version: (new version, True), or (newest version, False) if that has the same document.

    Raises FlawedDocumentError with every flaw.
    """
    if flaws := list(instrument_flaws(document)):
        raise FlawedDocumentError(flaws)
    return await instruments.put(name, encoded(document), by)


async def list_instruments(
    instruments: Instruments, after: str = "", limit: int = MOST_AT_ONCE, due: Due | None = None
) -> InstrumentPage:
    """Return a page of instruments after `after`, each in its newest version."""
    found, last = await part(partial(instruments.listed, after, due=due), limit)
    return InstrumentPage(found, last.instrument if last else "")


async def flaws_by_instrument(ledger: Ledger, grade: CompiledGrade, batch: Batch) -> Sequence[Flaw]:
    """Return the flaws of a batch by its instrument; none if that is not registered."""
    found = await ledger.instrument(batch.instrument) if batch.instrument else None
    return _flaws(found, grade, batch) if found else ()


def marked(pending: PendingLot, grade: CompiledGrade, batch: Batch) -> Batch:
    """Return a batch with marks of its instrument, as registered at the time of the transaction.

    Raises FlawedDocumentError if the instrument does not measure the characteristic of a series.
    """
    found = pending.instrument
    # Beside what was sent, under `marks`: the batch's digest, and the differences that a repeated batch is refused with, are of
    # what was sent. An instrument that is not registered is no flaw.
    if found is None:
        return batch
    if flaws := _flaws(found, grade, batch):
        raise FlawedDocumentError(flaws)
    return _marked(found, pending.now.date(), grade, batch)


async def likely_marked(ledger: Ledger, grade: CompiledGrade, batch: Batch) -> Batch:
    """Return the batch as it will probably be stored; `marked` decides within the transaction."""
    found = await ledger.instrument(batch.instrument) if batch.instrument else None
    return batch if found is None or _flaws(found, grade, batch) else _marked(found, date.min, grade, batch)


def _marked(found: InstrumentRow, today: date, grade: CompiledGrade, batch: Batch) -> Batch:
    marks = marks_on(batch, instrument_of(found.document), found.number, today, grade.characteristics)
    return MarkedBatch(**asdict(batch), marks=marks)


def _flaws(found: InstrumentRow, grade: CompiledGrade, batch: Batch) -> Sequence[Flaw]:
    return list(measuring_flaws(found.instrument, instrument_of(found.document), batch, grade.characteristics))
