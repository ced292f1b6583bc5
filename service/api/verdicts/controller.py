"""The controller of stored verdicts: close and correct lots, show and replay verdicts."""

from functools import partial
from typing import Annotated

from litestar import Controller, Response
from litestar.di import NamedDependency
from litestar.params import JSONBody
from msgspec import UNSET, Meta

from service.api.answers import PRIVATE_FOR_EVER, cacheable
from service.api.bodies.receiving import StrictRequest
from service.api.handlers import get, post
from service.api.lots.shown import Lots
from service.api.operations import documented
from service.api.parameters import Limit, LotId, VerdictNumber, query_parameter
from service.api.verdicts import operations
from service.api.verdicts.documents import VerdictList, VerdictVerbatim
from service.api.verdicts.replay_documents import ReplayVerbatim
from service.api.verdicts.shown import closing_answer, replay_shown, verdict_number, verdict_summary, verdict_verbatim
from service.engine.ledger import Closing, Correction
from service.usecases.judging import check_readings
from service.usecases.lots import closing as closes
from service.usecases.lots import correcting as corrects
from service.usecases.lots import replay_verdict
from service.usecases.paging import MOST_AT_ONCE, part

_After = Annotated[int, Meta(ge=0, le=999_999_999)]
AfterVerdict = Annotated[_After | None, query_parameter("Only verdicts with a greater number.", 0)]


class VerdictController(Controller):
    """Stored verdicts, which never change."""

    path = "/v1/lots/{lot:str}"

    @post("/close", **documented(operations.CLOSE_LOT))
    async def close(
        self, lot: LotId, data: JSONBody[Closing], lots: NamedDependency[Lots], request: StrictRequest
    ) -> Response[VerdictVerbatim]:
        """Close a lot by a verdict."""
        return closing_answer(lots, await closes.close_lot(lots.ledger, lots.grade_cache, lot, data, request.user.name))

    @post("/corrections", **documented(operations.CORRECT_LOT))
    async def correct(
        self, lot: LotId, data: JSONBody[Correction], lots: NamedDependency[Lots], request: StrictRequest
    ) -> Response[VerdictVerbatim]:
        """Correct a lot that has a verdict, by its next one."""
        check_readings(data.series, lots.most_readings, "/series")
        return closing_answer(lots, await corrects.correct_lot(lots.ledger, lots.grade_cache, lot, data, request.user.name))

    @get("/verdicts", **documented(operations.LIST_VERDICTS))
    async def list_verdicts(
        self, lot: LotId, lots: NamedDependency[Lots], after: AfterVerdict = None, limit: Limit = None
    ) -> VerdictList:
        """List the verdicts of a lot."""
        found, last = await part(partial(lots.ledger.verdict_changes, lot, after or 0), limit or MOST_AT_ONCE)
        return VerdictList(lot, [verdict_summary(lot, change) for change in found], verdict_number(last) if last else UNSET)

    @get("/verdicts/{verdict:str}", **documented(operations.SHOW_VERDICT))
    async def show_verdict(self, lot: LotId, verdict: VerdictNumber, lots: NamedDependency[Lots]) -> Response[VerdictVerbatim]:
        """Show a verdict as it is stored."""
        # Private: what was measured of a lot is the mill's own, and shared caches must not store it.
        found = await closes.stored_verdict(lots.ledger, lot, verdict)
        return cacheable(verdict_verbatim(found), PRIVATE_FOR_EVER)

    @get("/verdicts/{verdict:str}/evidence", **documented(operations.SHOW_JUDGED_EVIDENCE))
    async def show_judged_evidence(self, lot: LotId, verdict: VerdictNumber, lots: NamedDependency[Lots]) -> Response[bytes]:
        """Show the evidence that a verdict was based on, byte for byte."""
        return cacheable((await lots.ledger.verdict(lot, verdict)).evidence, PRIVATE_FOR_EVER)

    @post("/verdicts/{verdict:str}/replay", **documented(operations.REPLAY_VERDICT))
    async def replay(self, lot: LotId, verdict: VerdictNumber, lots: NamedDependency[Lots]) -> ReplayVerbatim:
        """Judge again the evidence of a verdict and report the differences."""
        return replay_shown(await replay_verdict(lots.ledger, lots.grade_cache, lot, verdict))
