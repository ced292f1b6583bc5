"""All controllers, in the order of the OpenAPI document's paths."""

from service.api.all_claims.controller import AllClaimsController
from service.api.claims.controller import ClaimController
from service.api.dispositions.controller import ConcessionController, DispositionController
from service.api.grades.controller import GradeController
from service.api.instruments.controller import InstrumentController
from service.api.journal.controller import JournalController
from service.api.judging.controller import (
    CheckController,
    DrawController,
    GradingController,
    LotVerdictController,
    ReviewController,
)
from service.api.keys.controller import KeyController
from service.api.lines.controller import LineController
from service.api.lots.controller import LotController
from service.api.pages.controller import PageController
from service.api.planning.controller import PlanController
from service.api.trends.controller import TrendController
from service.api.verdicts.controller import VerdictController
from service.api.vocabularies.controller import CharacteristicController, FaultController, UnitController

CONTROLLERS = (
    CheckController,
    LotVerdictController,
    DrawController,
    GradingController,
    ReviewController,
    CharacteristicController,
    FaultController,
    UnitController,
    PlanController,
    GradeController,
    LotController,
    VerdictController,
    ConcessionController,
    DispositionController,
    LineController,
    ClaimController,
    AllClaimsController,
    TrendController,
    InstrumentController,
    KeyController,
    JournalController,
    PageController,
)
