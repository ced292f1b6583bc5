"""The register of instruments, and what it says of a batch that names one."""

from collections.abc import Sequence
from datetime import date
from functools import partial
from typing import NamedTuple

import msgspec
from msgspec.structs import asdict

from service.engine.documents import Flaw, FlawedDocumentError
from service.engine.grade import CompiledGrade
from service.engine.ledger import Batch, Instrument, MarkedBatch, encoded, instrument_flaws, marks_on, measuring_flaws
from service.ports.instruments import InstrumentRow, Instruments
from service.ports.ledger import Ledger, PendingLot
from service.usecases.paging import MOST_AT_ONCE, part

instrument_of = msgspec.json.Decoder(Instrument).decode
"""The document of a version that is kept."""


class InstrumentPage(NamedTuple):
    """Instruments in the order of their ids, and the id to go on after, "" where these were the last."""

    instruments: Sequence[InstrumentRow]
    after: str


async def put_instrument(instruments: Instruments, name: str, document: Instrument, by: str) -> tuple[InstrumentRow, bool]:
    """(a new version, True), or (the newest, False) where it says the same; the newest one counts, whoever wrote it.

    Raises FlawedDocumentError with every flaw.
    """
    if flaws := list(instrument_flaws(document)):
        raise FlawedDocumentError(flaws)
    return await instruments.put(name, encoded(document), by)


async def list_instruments(instruments: Instruments, after: str = "", limit: int = MOST_AT_ONCE) -> InstrumentPage:
    """Instruments that come after this one, each in its newest version."""
    found, last = await part(partial(instruments.listed, after), limit)
    return InstrumentPage(found, last.instrument if last else "")


async def flaws_by_instrument(ledger: Ledger, grade: CompiledGrade, batch: Batch) -> Sequence[Flaw]:
    """What is wrong with a batch by the instrument that it names; nothing where that one is not registered."""
    found = await ledger.instrument(batch.instrument) if batch.instrument else None
    return _flaws(found, grade, batch) if found else ()


def marked(pending: PendingLot, grade: CompiledGrade, batch: Batch) -> Batch:
    """A batch without flaws of its own, with what is known by now of its instrument.

    Raises FlawedDocumentError where that one does not measure what a series is of.
    """
    found = pending.instrument
    if found is None:
        return batch
    if flaws := _flaws(found, grade, batch):
        raise FlawedDocumentError(flaws)
    return _marked(found, pending.now.date(), grade, batch)


async def likely_marked(ledger: Ledger, grade: CompiledGrade, batch: Batch) -> Batch:
    """The batch as it will most likely be kept; to be looked at again where that is decided."""
    found = await ledger.instrument(batch.instrument) if batch.instrument else None
    return batch if found is None or _flaws(found, grade, batch) else _marked(found, date.min, grade, batch)


def _marked(found: InstrumentRow, today: date, grade: CompiledGrade, batch: Batch) -> Batch:
    marks = marks_on(batch, instrument_of(found.document), found.number, today, grade.characteristics)
    return MarkedBatch(**asdict(batch), marks=marks)


def _flaws(found: InstrumentRow, grade: CompiledGrade, batch: Batch) -> Sequence[Flaw]:
    return list(measuring_flaws(found.instrument, instrument_of(found.document), batch, grade.characteristics))
