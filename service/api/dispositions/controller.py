"""The controllers of concessions and dispositions: people's decisions about lots."""

from typing import Annotated

from litestar import Controller, Response
from litestar.di import NamedDependency
from litestar.params import JSONBody
from msgspec import UNSET, Meta
from msgspec.structs import asdict

from service.api.answers import created_or_found
from service.api.bodies.receiving import StrictRequest
from service.api.dispositions import operations
from service.api.dispositions.documents import ConcessionList, ConcessionShown, DispositionList, DispositionShown
from service.api.handlers import get, post, put
from service.api.lots.shown import Lots
from service.api.operations import documented
from service.api.parameters import ConcessionName, Limit, LotId, query_parameter
from service.engine.ledger import Concession, Disposed, Disposition, Granted
from service.usecases.dispositions import disposing as use
from service.usecases.paging import MOST_AT_ONCE, part_of

_Number = Annotated[int, Meta(ge=0, le=999_999_999)]
AfterConcession = Annotated[_Number | None, query_parameter("Leave out this many from the beginning of the list.", 0)]
AfterDisposition = Annotated[_Number | None, query_parameter("Only dispositions with a greater number.", 0)]


class ConcessionController(Controller):
    """Concessions: permissions to let a lot go out although its verdict does not pass it."""

    path = "/v1/lots/{lot:str}/concessions"

    @get(**documented(operations.LIST_CONCESSIONS))
    async def list_concessions(
        self, lot: LotId, lots: NamedDependency[Lots], after: AfterConcession = None, limit: Limit = None
    ) -> ConcessionList:
        """List the concessions of a lot."""
        # A lot's concessions are few and folded in memory, so a page is a slice of the list.
        every = list((await lots.ledger.folded(lot)).handled.concessions.items())
        found, last = part_of(every, after or 0, limit or MOST_AT_ONCE)
        return ConcessionList(lot, [_concession(lot, *named) for named in found], last or UNSET)

    @get("/{concession:str}", **documented(operations.SHOW_CONCESSION))
    async def show_concession(self, lot: LotId, concession: ConcessionName, lots: NamedDependency[Lots]) -> ConcessionShown:
        """Show a concession of a lot."""
        return _concession(lot, concession, await use.concession_of(lots.ledger, lot, concession))

    @put("/{concession:str}", **documented(operations.GRANT_CONCESSION))
    async def grant(
        self,
        lot: LotId,
        concession: ConcessionName,
        data: JSONBody[Concession],
        lots: NamedDependency[Lots],
        request: StrictRequest,
    ) -> Response[ConcessionShown]:
        """Grant a concession."""
        granted, is_new = await use.grant(lots.ledger, lots.grade_cache, lot, concession, data, request.user.name)
        location = f"/v1/lots/{lot}/concessions/{concession}" if is_new else ""
        return created_or_found(_concession(lot, concession, granted), is_new=is_new, location=location)


class DispositionController(Controller):
    """Dispositions: what is done with a lot, and by whose decision."""

    path = "/v1/lots/{lot:str}/dispositions"

    @get(**documented(operations.LIST_DISPOSITIONS))
    async def list_dispositions(
        self, lot: LotId, lots: NamedDependency[Lots], after: AfterDisposition = None, limit: Limit = None
    ) -> DispositionList:
        """List the dispositions of a lot."""
        folded = await lots.ledger.folded(lot)
        found, last = part_of(folded.handled.dispositions, after or 0, limit or MOST_AT_ONCE)
        return DispositionList(lot, [_disposition(lot, disposed, len(folded.verdicts)) for disposed in found], last or UNSET)

    @post(**documented(operations.DISPOSE_OF_LOT))
    async def dispose(
        self, lot: LotId, data: JSONBody[Disposition], lots: NamedDependency[Lots], request: StrictRequest
    ) -> Response[DispositionShown]:
        """Record what is done with a lot."""
        by, may = request.user.name, lots.one_person_may
        done = await use.dispose(lots.ledger, lots.grade_cache, lots.lines, lot, data, by, one_person_may=may)
        return created_or_found(_disposition(lot, done.disposed, done.verdicts), is_new=done.is_new)


def _concession(lot: str, name: str, granted: Granted) -> ConcessionShown:
    return ConcessionShown(lot=lot, concession=name, granted_at=granted.at, by=granted.by, **asdict(granted.document))


def _disposition(lot: str, disposed: Disposed, verdicts: int) -> DispositionShown:
    return DispositionShown(
        lot=lot,
        number=disposed.number,
        recorded_at=disposed.at,
        by=disposed.by,
        is_of_earlier_verdict=disposed.is_of_earlier_verdict(verdicts),
        **asdict(disposed.document),
    )
