"""Verdicts judged again."""

from msgspec import UNSET, Raw
from msgspec.structs import asdict

from service.api.handlers.closing import named
from service.api.problems import MOST_FLAWS, Answer
from service.api.replaying_documents import DifferenceShown, EnginesShown, OfReplay, ReplayVerbatim
from service.api.requests import Request
from service.api.service import Service, shown
from service.usecases.ledger.replaying import Replayed
from service.usecases.ledger.replaying import replay_verdict as replays

MOST_DIFFERENCES = 100


async def replay_verdict(request: Request, service: Service) -> Answer:
    """A verdict judged again."""
    return shown(_document(await replays(service.ledger, service.shelf, *named(request))))


def what_came(replayed: Replayed) -> OfReplay:
    """What came of judging again, without the verdict itself."""
    row, replay = replayed
    found = replay.differences
    return OfReplay(
        lot=row.lot,
        number=row.number,
        agrees=replay.agrees,
        differences=[DifferenceShown(each.at, each.then, each.now) for each in found[:MOST_DIFFERENCES]],
        more_differences=len(found) - MOST_DIFFERENCES if len(found) > MOST_DIFFERENCES else UNSET,
        flaws=list(replay.flaws[:MOST_FLAWS]) or UNSET,
        engine=EnginesShown(replay.engine.now, replay.engine.then),
    )


def _document(replayed: Replayed) -> ReplayVerbatim:
    verdict = replayed.replay.verdict
    return ReplayVerbatim(**asdict(what_came(replayed)), verdict=Raw(verdict) if verdict else UNSET)
