"""The routes of instruments."""

from service.api import ledger_examples as examples
from service.api.handlers import instruments as does
from service.api.ledger_documents import InstrumentList, InstrumentShown
from service.api.problems import CREATED, OK
from service.api.requests import Parameter
from service.api.routes.catalogue import LIMIT
from service.api.routing import Body, Example, Reply, Route
from service.engine.ledger import Instrument
from service.engine.texts import Code, RevisionNumber
from service.ports import Scope

INSTRUMENT = "/v1/instruments/{instrument}"


def instrument_routes() -> tuple[Route, ...]:
    """What is known of instruments."""
    one = [Example("tester", examples.TESTER_SHOWN)]
    return (
        Route(
            method="GET",
            path="/v1/instruments",
            operation_id="listInstruments",
            scope=Scope.READ,
            tag="instruments",
            summary="List instruments",
            description="Each in its newest version, in the order of their ids. Give `next` as `after` to go on; it is left "
            "out at the end.",
            handler=does.list_instruments,
            parameters=[
                Parameter("after", Code, "Only instruments whose id comes after this one.", examples.INSTRUMENT),
                LIMIT,
            ],
            replies=[
                Reply(OK, "Instruments.", InstrumentList, [Example("one", {"instruments": [examples.TESTER_SHOWN]})]),
            ],
            refusals=("not-ready",),
        ),
        Route(
            method="GET",
            path=INSTRUMENT,
            operation_id="showInstrument",
            scope=Scope.READ,
            tag="instruments",
            summary="Show an instrument",
            description="What is known of it, since when and by whom: the newest version, or the one named; all are kept.",
            handler=does.show_instrument,
            parameters=[Parameter("number", RevisionNumber, "The version of this number.", 1)],
            replies=[Reply(OK, "The version.", InstrumentShown, one)],
            refusals=("not-found", "not-ready"),
        ),
        Route(
            method="PUT",
            path=INSTRUMENT,
            operation_id="putInstrument",
            scope=Scope.ADMINISTER,
            tag="instruments",
            summary="Register an instrument, or change what is known of it",
            description="Each change is a version of its own, and the newest one counts from then on, whoever wrote it; the "
            "answer says which number it has. The same sent again makes no version. Batches that name the instrument are "
            "marked by the version of the moment in which they are recorded, and keep their marks: `overdue` where "
            "`calibrated_until` was past on the day of their readings, and the uncertainty for series that state none.",
            handler=does.put_instrument,
            body=Body(Instrument, [Example("tester", examples.TESTER)]),
            replies=[
                Reply(OK, "The newest version: a further one, or the one that said the same.", InstrumentShown, one),
                Reply(CREATED, "The first version.", InstrumentShown, one, headers=("Location",)),
            ],
            refusals=("not-found", "not-ready"),
        ),
    )
