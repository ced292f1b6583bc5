"""Answers about stored verdicts and their replays."""

import msgspec
from litestar import Response
from msgspec import UNSET, Raw
from msgspec.structs import asdict

from service.api.answers import created_or_found
from service.api.lots.shown import Lots
from service.api.problems import MOST_FLAWS
from service.api.verdicts.documents import VerdictSummary, VerdictVerbatim
from service.api.verdicts.replay_documents import DifferenceShown, EnginesShown, OfReplay, ReplayVerbatim
from service.engine.ledger import Change, VerdictRecord
from service.usecases.lots import Replayed
from service.usecases.lots import closing as closes

MOST_DIFFERENCES = 100
_decode_record = msgspec.json.Decoder(VerdictRecord).decode


def closing_answer(lots: Lots, done: closes.Closed) -> Response[VerdictVerbatim]:
    """The answer to closing or correcting a lot; a new verdict is counted in the metrics."""
    row = done.kept.row
    if done.is_new:
        lots.judged.count("verdicts", row.grade, row.outcome)
    location = f"/v1/lots/{row.lot}/verdicts/{row.number}" if done.is_new else ""
    return created_or_found(verdict_verbatim(done.kept), is_new=done.is_new, location=location)


def verdict_number(change: Change) -> int:
    """The number of the verdict that a change recorded."""
    return _decode_record(change.document).number


def verdict_verbatim(stored: closes.StoredVerdict) -> VerdictVerbatim:
    """A stored verdict with its metadata, its bytes unchanged."""
    row, record = stored
    return VerdictVerbatim(
        lot=row.lot,
        number=row.number,
        recorded_at=row.at,
        by=row.by,
        state=record.state,
        reason=record.reason,
        verdict=Raw(row.verdict),
    )


def verdict_summary(lot: str, change: Change) -> VerdictSummary:
    """A verdict in a list."""
    record = _decode_record(change.document)
    return VerdictSummary(
        lot=lot,
        number=record.number,
        recorded_at=change.at,
        by=change.by,
        state=record.state,
        reason=record.reason,
        outcome=record.outcome,
        revision=record.revision,
    )


def replay_summary(replayed: Replayed) -> OfReplay:
    """The result of a replay, with at most 100 differences and 100 flaws, without the new verdict."""
    row, replay = replayed
    found = replay.differences
    return OfReplay(
        lot=row.lot,
        number=row.number,
        agrees=replay.agrees,
        differences=[
            DifferenceShown(difference.at, difference.then, difference.now) for difference in found[:MOST_DIFFERENCES]
        ],
        more_differences=len(found) - MOST_DIFFERENCES if len(found) > MOST_DIFFERENCES else UNSET,
        flaws=list(replay.flaws[:MOST_FLAWS]) or UNSET,
        engine=EnginesShown(replay.engine.now, replay.engine.then),
    )


def replay_shown(replayed: Replayed) -> ReplayVerbatim:
    """The result of a replay with the new verdict, if there is one."""
    verdict = replayed.replay.verdict
    return ReplayVerbatim(**asdict(replay_summary(replayed)), verdict=Raw(verdict) if verdict else UNSET)
