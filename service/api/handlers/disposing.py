"""Concessions and dispositions: what persons decide on lots."""

from msgspec import UNSET
from msgspec.structs import asdict

from service.api.decoding import Shape, decoded
from service.api.disposing_documents import ConcessionList, ConcessionShown, DispositionList, DispositionShown
from service.api.handlers.lots import there_first
from service.api.problems import CREATED, OK, Answer
from service.api.requests import Request
from service.api.service import Service, shown
from service.engine.ledger.disposing import Concession, Disposed, Disposition, Granted
from service.usecases.ledger import disposing as use
from service.usecases.paging import MOST_AT_ONCE, part_of

CONCESSION, DISPOSITION = Shape(Concession), Shape(Disposition)


async def grant_concession(request: Request, service: Service) -> Answer:
    """Grant a concession."""
    lot, name = request.path["lot"], request.path["concession"]
    concession = await there_first(service, lot, decoded(request.body, CONCESSION))
    granted, is_new = await use.grant(service.ledger, service.shelf, lot, name, concession, request.by.name)
    headers = (("location", f"/v1/lots/{lot}/concessions/{name}"),) if is_new else ()
    return shown(_concession(lot, name, granted), CREATED if is_new else OK, headers)


async def show_concession(request: Request, service: Service) -> Answer:
    """A concession of a lot."""
    lot, name = request.path["lot"], request.path["concession"]
    return shown(_concession(lot, name, await use.concession_of(service.ledger, lot, name)))


async def list_concessions(request: Request, service: Service) -> Answer:
    """The concessions of a lot."""
    lot = request.path["lot"]
    all_of_it = list((await service.ledger.folded(lot)).handled.concessions.items())
    found, after = part_of(all_of_it, request.query.get("after", 0), request.query.get("limit", MOST_AT_ONCE))
    return shown(ConcessionList(lot, [_concession(lot, *each) for each in found], after or UNSET))


async def dispose(request: Request, service: Service) -> Answer:
    """Say what is done with a lot."""
    lot, may = request.path["lot"], service.one_person_may_release
    asked = await there_first(service, lot, decoded(request.body, DISPOSITION))
    done = await use.dispose(service.ledger, service.shelf, lot, asked, request.by.name, one_person_may=may)
    return shown(_disposition(lot, done.disposed, done.verdicts), CREATED if done.is_new else OK)


async def list_dispositions(request: Request, service: Service) -> Answer:
    """The dispositions of a lot."""
    lot, folded = request.path["lot"], await service.ledger.folded(request.path["lot"])
    every = folded.handled.dispositions
    found, after = part_of(every, request.query.get("after", 0), request.query.get("limit", MOST_AT_ONCE))
    return shown(DispositionList(lot, [_disposition(lot, each, len(folded.verdicts)) for each in found], after or UNSET))


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
