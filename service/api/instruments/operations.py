"""Declarations of the operations on instruments, for the OpenAPI document, logs and access control."""

from service.api.instruments.documents import InstrumentList, InstrumentShown
from service.api.operations import Operation, Reply
from service.api.problems import CREATED, OK
from service.engine.ledger import Instrument
from service.ports.catalogue import Scope

LIST_INSTRUMENTS = Operation(
    name="listInstruments",
    tag="instruments",
    summary="List instruments",
    description=(
        "Each in its newest version, in the order of their ids. Send `next` as `after` to get the next page; the last "
        "page has none."
    ),
    scope=Scope.READ,
    replies=(Reply(OK, "Instruments.", InstrumentList),),
    refusals=("not-ready",),
)
SHOW_INSTRUMENT = Operation(
    name="showInstrument",
    tag="instruments",
    summary="Show an instrument",
    description="The newest version of its data, or the one requested, with when and by whom it was written. All are stored.",
    scope=Scope.READ,
    replies=(Reply(OK, "The version.", InstrumentShown),),
    refusals=("not-found", "not-ready"),
)
PUT_INSTRUMENT = Operation(
    name="putInstrument",
    tag="instruments",
    summary="Register an instrument, or change its data",
    description=(
        "Each change is a new version, and the newest one counts from then on, whoever wrote it; the answer has its "
        "number. The same data sent again makes no version. Batches that name the instrument are marked by the version "
        "that is newest when they are recorded, and keep their marks: `overdue` where `calibrated_until` was past on the "
        "day of their readings, and the uncertainty for series that state none."
    ),
    scope=Scope.ADMINISTER,
    body=Instrument,
    replies=(
        Reply(OK, "The newest version: a further one, or the one with the same data.", InstrumentShown),
        Reply(CREATED, "The first version.", InstrumentShown, headers=("Location",)),
    ),
    refusals=("not-found", "not-ready"),
)
