"""Grades of which most lots plainly pass, grades that ask for more, and how their readings spread."""

from tests.support.grades import (
    ELONGATION,
    FORCE,
    RUNNAGE,
    TWIST,
    Document,
    each,
    fixed,
    grade,
    mean,
    sampled,
    spread,
    variables,
)

NOMINAL = {"nominal": 130, "minus": 5, "plus": 5, "tolerance": "percent"}
PLAIN: dict[str, Document] = {
    "as most": grade(
        each(lower=1120, allowed_outside={"count": 1}), mean(lower=1400), spread(statistic="standard_deviation", at_most=120)
    ),
    "two sides": grade(each(lower=980, upper=1980), mean(lower=1400, upper=1600)),
    "some may be outside on two sides": grade(each(lower=1120, upper=1900, allowed_outside={"count": 2})),
    "a share may be outside": grade(each(lower=1120, allowed_outside={"percent": 12.5})),
    "other spreads": grade(spread(statistic="range", at_most=400), spread(statistic="coefficient_of_variation", at_most=9)),
    "a sample": grade(each(lower=1120, sample=fixed(5)), mean(lower=1400, clause="4 %"), of=sampled(FORCE, 3)),
    "excluded": grade(each(limits={"above": 1120}), mean(limits={"above": 1400, "below": 1600})),
    "over packages": grade(each(lower=1260, over="packages"), mean(lower=1400, over="packages")),
    "worked out from a nominal": grade(each(limits=NOMINAL), mean(limits=NOMINAL), of=RUNNAGE),
    "in per cent": grade(each(lower=3, upper=7.5, clause="4 %"), of=ELONGATION),
    "one that does not bind": grade(each(lower=1120, binding=False), mean(lower=1400)),
}
NOT_PLAIN: dict[str, Document] = {
    "rounded": grade(each(lower=36, upper=42, rounding={"step": 1, "ties": "even"}), of=TWIST),
    "outer limits": grade(each(lower=1120, outer={"lower": 980})),
    "guarded": grade(
        mean(lower=1400, decision={"rule": "guarded_acceptance", "uncertainty": {"expanded": 5, "coverage_factor": 2}})
    ),
    "one that takes no part": grade(each(lower=1120), variables(1.5, lower=1000)),
}
SPREAD = {"breaking_force": (1500, 60, 1), "runnage": (130, 2, 2), "elongation_at_break": (5, 0.6, 2)}
"""By characteristic: the middle, the standard deviation and the decimals."""
