"""The controller of the register of instruments, each in all its versions."""

from datetime import UTC, tzinfo
from typing import Annotated, Literal

from litestar import Controller, Response
from litestar.di import NamedDependency
from litestar.params import JSONBody
from msgspec import UNSET, Struct
from msgspec.structs import asdict

from service.api.answers import created_or_found
from service.api.bodies.receiving import StrictRequest
from service.api.handlers import get, put
from service.api.instruments import operations
from service.api.instruments.documents import InstrumentList, InstrumentShown
from service.api.moments import today
from service.api.operations import documented
from service.api.parameters import InstrumentId, Limit, query_parameter
from service.engine.documents import Code, RevisionNumber
from service.engine.ledger import Instrument
from service.ports.instruments import Due, InstrumentRow, Instruments
from service.usecases import instruments as use
from service.usecases.paging import MOST_AT_ONCE

AfterInstrument = Annotated[Code | None, query_parameter("Only instruments whose id comes after this one.", "TT-2")]
Overdue = Annotated[
    Literal["true", "false"] | None,
    query_parameter(
        "Only instruments whose calibration had expired before today in the service's time zone, or only others.", "true"
    ),
]
Version = Annotated[RevisionNumber | None, query_parameter("The number of the version; the newest if left out.", 1)]


class InstrumentRegister(Struct, frozen=True):
    """The register that the handlers use."""

    instruments: Instruments
    time_zone: tzinfo = UTC
    """The zone of today."""


class InstrumentController(Controller):
    """The register of instruments."""

    path = "/v1/instruments"

    @get(**documented(operations.LIST_INSTRUMENTS))
    async def list_instruments(
        self,
        instruments: NamedDependency[InstrumentRegister],
        overdue: Overdue = None,
        after: AfterInstrument = None,
        limit: Limit = None,
    ) -> InstrumentList:
        """List instruments in the order of their ids."""
        due = Due(today(instruments.time_zone).isoformat(), is_overdue=overdue == "true") if overdue else None
        page = await use.list_instruments(instruments.instruments, after or "", limit or MOST_AT_ONCE, due)
        return InstrumentList([_shown(row) for row in page.instruments], page.after or UNSET)

    @get("/{instrument:str}", **documented(operations.SHOW_INSTRUMENT))
    async def show(
        self, instrument: InstrumentId, instruments: NamedDependency[InstrumentRegister], number: Version = None
    ) -> InstrumentShown:
        """Show an instrument in its newest version, or in the one requested."""
        return _shown(await instruments.instruments.version(instrument, number))

    @put("/{instrument:str}", **documented(operations.PUT_INSTRUMENT))
    async def write(
        self,
        instrument: InstrumentId,
        data: JSONBody[Instrument],
        instruments: NamedDependency[InstrumentRegister],
        request: StrictRequest,
    ) -> Response[InstrumentShown]:
        """Register an instrument, or add a version to it."""
        row, is_changed = await use.put_instrument(instruments.instruments, instrument, data, request.user.name)
        # 201 for the instrument itself only: a further version is no new resource, it is under the same URL.
        is_first = is_changed and row.number == 1
        return created_or_found(_shown(row), is_new=is_first, location=f"/v1/instruments/{instrument}" if is_first else "")


def _shown(row: InstrumentRow) -> InstrumentShown:
    """The answer about a version of an instrument."""
    document = use.instrument_of(row.document)
    return InstrumentShown(instrument=row.instrument, number=row.number, at=row.at, by=row.by, **asdict(document))
