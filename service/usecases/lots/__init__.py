"""The life of a lot: opening, readings, closing, corrections, replays. Decisions on judged lots are in `dispositions`."""

from service.usecases.lots import closing, correcting, opening, readings
from service.usecases.lots.checking import CheckOfLot, of_reading_in_lot
from service.usecases.lots.opening import existing_row, number_of
from service.usecases.lots.replaying import LONG_BYTES, Replayed, replay_verdict
from service.usecases.lots.short_closings import ClosedShort, closed_short
from service.usecases.lots.standing import RequirementStanding
from service.usecases.lots.verdicts import LONG, newest_verdict

__all__ = [
    "LONG",
    "LONG_BYTES",
    "CheckOfLot",
    "ClosedShort",
    "Replayed",
    "RequirementStanding",
    "closed_short",
    "closing",
    "correcting",
    "existing_row",
    "newest_verdict",
    "number_of",
    "of_reading_in_lot",
    "opening",
    "readings",
    "replay_verdict",
]
