"""`uk-2006-659`: The Weights and Measures (Packaged Goods) Regulations 2006, UK SI 2006/659, Schedule 2, paragraphs 3 and 4.

The plans are those of 76/211/EEC; below 100 packages at most one in twenty may be short by more than is tolerable.
"""

from fractions import Fraction

from service.engine.requirements.net_content.figures import Law, WholeRow
from service.engine.requirements.net_content.rules.eu_76_211 import DESTRUCTIVE, DOUBLE, SINGLE, TOLERANCE, TWICE

WHOLE = WholeRow(1, 99, percent_beyond=Fraction(5))

LAW = Law(
    name="uk-2006-659",
    quantity="mass",
    rows={"single": (WHOLE, *SINGLE), "double": (WHOLE, *DOUBLE), "destructive": DESTRUCTIVE},
    tolerance=TOLERANCE,
    none_beyond_times=TWICE,
)
