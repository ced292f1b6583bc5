"""How severely the next lot of a line is inspected, by what became of the lots before it, class by class."""

from service.engine.switching.following import Course, Inspected, Override, Standing, State, Switch, follow, override_flaws
from service.engine.switching.results import results_of

__all__ = ["Course", "Inspected", "Override", "Standing", "State", "Switch", "follow", "override_flaws", "results_of"]
