"""How severely the next lot of a line is inspected, by what became of the lots before it, class by class."""

from service.engine.switching.following import (
    Course,
    Inspected,
    Override,
    Standing,
    State,
    Switch,
    follow,
    next_inspection,
    override_flaws,
)
from service.engine.switching.lines import Decision, LineHistory, LotResults
from service.engine.switching.results import Subject, results_of, subjects_of

__all__ = [
    "Course",
    "Decision",
    "Inspected",
    "LineHistory",
    "LotResults",
    "Override",
    "Standing",
    "State",
    "Subject",
    "Switch",
    "follow",
    "next_inspection",
    "override_flaws",
    "results_of",
    "subjects_of",
]
