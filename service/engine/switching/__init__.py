"""Switching rules: how severely the next lot of a line is inspected, from the results of the lots before it."""

from service.engine.switching.following import Override, State, Switch, next_inspection, override_flaws
from service.engine.switching.lines import Decision, LineHistory, LotResults
from service.engine.switching.results import Subject, results_of, subjects_of
from service.engine.switching.stored_results import encoded_results

__all__ = [
    "Decision",
    "LineHistory",
    "LotResults",
    "Override",
    "State",
    "Subject",
    "Switch",
    "encoded_results",
    "next_inspection",
    "override_flaws",
    "results_of",
    "subjects_of",
]
