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
        "Each in its newest version, in the order of their ids. Give `next` as `after` to go on; it is left out at the end."
    ),
    scope=Scope.READ,
    replies=(Reply(OK, "Instruments.", InstrumentList),),
    refusals=("not-ready",),
)
SHOW_INSTRUMENT = Operation(
    name="showInstrument",
    tag="instruments",
    summary="Show an instrument",
    description="What is known of it, since when and by whom: the newest version, or the one named; all are kept.",
    scope=Scope.READ,
    replies=(Reply(OK, "The version.", InstrumentShown),),
    refusals=("not-found", "not-ready"),
)
PUT_INSTRUMENT = Operation(
    name="putInstrument",
    tag="instruments",
    summary="Register an instrument, or change what is known of it",
    description=(
        "Each change is a version of its own, and the newest one counts from then on, whoever wrote it; the answer "
        "says which number it has. The same sent again makes no version. Batches that name the instrument are "
        "marked by the version of the moment in which they are recorded, and keep their marks: `overdue` where "
        "`calibrated_until` was past on the day of their readings, and the uncertainty for series that state none."
    ),
    scope=Scope.ADMINISTER,
    body=Instrument,
    replies=(
        Reply(OK, "The newest version: a further one, or the one that said the same.", InstrumentShown),
        Reply(CREATED, "The first version.", InstrumentShown, headers=("Location",)),
    ),
    refusals=("not-found", "not-ready"),
)
