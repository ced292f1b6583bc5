"""Sampling plans: packages to draw, readings of each, acceptance numbers, and the risks of a plan; no judging of readings."""

from service.engine.sampling.acceptance import AttributesPlan, Basis, LotSize, NoPlan, Stage, VariablesPlan
from service.engine.sampling.checking import counting_flaws, plan_place_flaws, sample_flaws
from service.engine.sampling.code_letter import CodeLetter
from service.engine.sampling.plans import Fixed, SampleSize, Share, lot_too_small
from service.engine.sampling.samples import Sample, size_of
from service.engine.sampling.two_point import TwoPoint

__all__ = [
    "AttributesPlan",
    "Basis",
    "CodeLetter",
    "Fixed",
    "LotSize",
    "NoPlan",
    "Sample",
    "SampleSize",
    "Share",
    "Stage",
    "TwoPoint",
    "VariablesPlan",
    "counting_flaws",
    "lot_too_small",
    "plan_place_flaws",
    "sample_flaws",
    "size_of",
]
