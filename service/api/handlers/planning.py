"""Sampling plans and their risks."""

from service.api.decoding import Shape, decode_and
from service.api.problems import Answer
from service.api.requests import Request
from service.api.service import Service, shown
from service.usecases.apart import apart
from service.usecases.plan_requests import PlanRequest
from service.usecases.planning import SamplingPlan, plan

PLAN = Shape(PlanRequest)


async def show_sampling_plan(request: Request, service: Service) -> Answer:
    """Work a plan out; nothing is stored."""
    return shown(await apart(plan, await decode_and(_planned, request.body, PLAN)))


async def _planned(request: PlanRequest) -> SamplingPlan:
    """The plan, as what looks over the rest of a misshapen request awaits it."""
    return await apart(plan, request)
