"""Prepares evidence: readings, counts, dates and remarks of one lot, or all flaws in them. Judges no requirement."""

from service.engine.lot.counting import FIRST, SECOND, Counts, CountsNeeded, Tally
from service.engine.lot.dating import Dates, date_flaws, dates_of, day_of, no_such_day
from service.engine.lot.doubts import implausible_reading, other_method
from service.engine.lot.inspecting import inspections_flaws
from service.engine.lot.lot import Lot, OutsideMarks
from service.engine.lot.ordinary import ordinary_lot
from service.engine.lot.preparing import lot_flaws, lot_size_of, own_flaws, prepare
from service.engine.lot.provenance import evidence_digest
from service.engine.lot.remarks import STRUCK, RemarkRules, remark_flaws
from service.engine.lot.series import SentSeries, sent
from service.engine.lot.series_flaws import measurable_flaws, out_of_range, reading_flaws, unit_flaws, unknown_characteristic

__all__ = [
    "FIRST",
    "SECOND",
    "STRUCK",
    "Counts",
    "CountsNeeded",
    "Dates",
    "Lot",
    "OutsideMarks",
    "RemarkRules",
    "SentSeries",
    "Tally",
    "date_flaws",
    "dates_of",
    "day_of",
    "evidence_digest",
    "implausible_reading",
    "inspections_flaws",
    "lot_flaws",
    "lot_size_of",
    "measurable_flaws",
    "no_such_day",
    "ordinary_lot",
    "other_method",
    "out_of_range",
    "own_flaws",
    "prepare",
    "reading_flaws",
    "remark_flaws",
    "sent",
    "unit_flaws",
    "unknown_characteristic",
]
