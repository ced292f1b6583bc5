"""What-if: what another revision would have made of lots that are closed."""

from service.api.decoding import Shape, decoded
from service.api.impact_documents import Period
from service.api.moments import in_utc
from service.api.problems import NDJSON, OK, Answer
from service.api.requests import Request
from service.api.service import Service
from service.api.streaming import Stream
from service.ports import ClosedWanted
from service.usecases.ledger.impact import Within, impact

PERIOD = Shape(Period)


async def show_impact(request: Request, service: Service) -> Answer:
    """Judge lots again, and tell of those that come out otherwise while it goes on."""
    period = await decoded(request.body, PERIOD)
    wanted = ClosedWanted(
        grade=request.path["grade"],
        lines=period.lines or (),
        closed_from=in_utc(period.from_, "/from") if period.from_ else None,
        closed_until=in_utc(period.until, "/until") if period.until else None,
        limit=period.limit or None,
    )
    within = Within(service.catalogue, service.history, service.workers, service.is_stopping)
    lines = impact(within, int(request.path["revision"]), wanted)
    return Answer(OK, media_type=NDJSON, stream=await Stream.begun(lines))
