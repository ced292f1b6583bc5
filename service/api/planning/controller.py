"""Sampling plans and their risks."""

from litestar import Controller
from litestar.params import JSONBody

from service.api.handlers import post
from service.api.operations import documented
from service.api.planning.operations import SHOW_SAMPLING_PLAN
from service.usecases.sampling_plans import PlanRequest, SamplingPlan, plan
from service.usecases.threads import run_in_thread


class PlanController(Controller):
    """Plans that are worked out; nothing is stored."""

    path = "/v1/sampling-plans"

    @post(**documented(SHOW_SAMPLING_PLAN))
    async def show(self, data: JSONBody[PlanRequest]) -> SamplingPlan:
        """Work a plan out."""
        return await planned(data)


async def planned(request: PlanRequest) -> SamplingPlan:
    """The plan, worked out where others are answered meanwhile. Raises FlawedDocumentError."""
    return await run_in_thread(plan, request)
