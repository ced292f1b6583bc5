"""Questions about a sampling plan before a lot exists: what it takes, and its risks."""

from service.usecases.sampling_plans.planning import SamplingPlan, plan
from service.usecases.sampling_plans.requests import PlanRequest

__all__ = [
    "PlanRequest",
    "SamplingPlan",
    "plan",
]
