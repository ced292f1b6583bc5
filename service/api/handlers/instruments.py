"""Instruments: what is known of each, in all its versions."""

from msgspec import UNSET
from msgspec.structs import asdict

from service.api.decoding import Shape, decoded
from service.api.ledger_documents import InstrumentList, InstrumentShown
from service.api.problems import CREATED, OK, Answer
from service.api.requests import Request
from service.api.service import Service, shown
from service.engine.ledger import Instrument
from service.ports import InstrumentRow
from service.usecases.ledger import instruments as use

INSTRUMENT = Shape(Instrument)


async def list_instruments(request: Request, service: Service) -> Answer:
    """Instruments in the order of their ids."""
    page = await use.list_instruments(service.instruments, **request.query)
    return shown(InstrumentList([_shown(each) for each in page.instruments], page.after or UNSET))


async def show_instrument(request: Request, service: Service) -> Answer:
    """An instrument, in its newest version or the one that is named."""
    return shown(_shown(await service.instruments.version(request.path["instrument"], request.query.get("number"))))


async def put_instrument(request: Request, service: Service) -> Answer:
    """What is known of an instrument from now on."""
    name, document = request.path["instrument"], await decoded(request.body, INSTRUMENT)
    row, is_changed = await use.put_instrument(service.instruments, name, document, request.by.name)
    is_first = is_changed and row.number == 1
    headers = (("location", f"/v1/instruments/{name}"),) if is_first else ()
    return shown(_shown(row), CREATED if is_first else OK, headers)


def _shown(row: InstrumentRow) -> InstrumentShown:
    """A version as it is sent."""
    document = use.instrument_of(row.document)
    return InstrumentShown(instrument=row.instrument, number=row.number, at=row.at, by=row.by, **asdict(document))
