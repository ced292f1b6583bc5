"""The controller of sampling plans and their risks."""

from litestar import Controller
from litestar.params import JSONBody

from service.api.handlers import post
from service.api.operations import documented
from service.api.planning.operations import SHOW_SAMPLING_PLAN
from service.usecases.sampling_plans import PlanRequest, SamplingPlan, plan
from service.usecases.threads import run_in_thread


class PlanController(Controller):
    """Sampling plans, calculated and not stored."""

    path = "/v1/sampling-plans"

    @post(**documented(SHOW_SAMPLING_PLAN))
    async def show(self, data: JSONBody[PlanRequest]) -> SamplingPlan:
        """Calculate a plan and its risks."""
        return await planned(data)


async def planned(request: PlanRequest) -> SamplingPlan:
    """Calculate a plan in a thread, as the search for one takes long. Raises FlawedDocumentError."""
    return await run_in_thread(plan, request)
