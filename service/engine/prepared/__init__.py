"""Answers that are written ahead: to readings that are in, and on lots that pass with nothing special about them."""

from service.engine.prepared.lots import verdict_ahead
from service.engine.prepared.passed import Passed
from service.engine.prepared.readings import answer_to

__all__ = ["Passed", "answer_to", "verdict_ahead"]
