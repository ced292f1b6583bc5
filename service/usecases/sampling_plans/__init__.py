"""Sampling plans before a lot exists: sample sizes and risks."""

from service.usecases.sampling_plans.planning import SamplingPlan, plan
from service.usecases.sampling_plans.requests import PlanRequest

__all__ = [
    "PlanRequest",
    "SamplingPlan",
    "plan",
]
