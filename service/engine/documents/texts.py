"""Types of the texts and numbers in documents: their lengths, characters and ranges."""

import re
from collections.abc import Iterator
from typing import Annotated

from msgspec import Meta

from service.engine.documents.flaws import Flaw

CONTROLS = r"\x00-\x1f\x7f-\x9f"
"""The control characters C0, DEL and C1 for a character class of a regular expression; no text may have one, tabs included."""

# Patterns end with `\Z`, as Python's `$` also matches before a line feed at the end.
Text = Annotated[str, Meta(min_length=1, max_length=200, pattern=rf"^[^{CONTROLS}]*\Z")]
LongText = Annotated[str, Meta(min_length=1, max_length=2000, pattern=rf"^[^{CONTROLS}]*\Z")]
UnitName = Annotated[str, Meta(min_length=1, max_length=32)]
"""A word for a unit; looked up in the closed table, so it needs no pattern."""
Name = Annotated[str, Meta(pattern=r"^[A-Za-z][A-Za-z0-9._-]{0,62}\Z", max_length=63)]
"""The name of a characteristic. Capitals are allowed, so that the flaw of `Runnage` can suggest the vocabulary's `runnage`."""
RequirementId = Annotated[str, Meta(pattern=r"^[a-z0-9][a-z0-9-]{0,62}\Z", max_length=63)]
Code = Annotated[str, Meta(pattern=r"^[A-Za-z0-9][A-Za-z0-9._-]{0,63}\Z", max_length=64)]
"""The identifier of a grade or a lot; case counts."""
# No pattern: control characters are looked for once for each package, where msgspec would look at each reading's.
PackageId = Annotated[str, Meta(min_length=1, max_length=64)]
"""Free text without control characters."""
Count = Annotated[int, Meta(ge=1, le=1_000_000_000)]
RevisionNumber = Annotated[int, Meta(ge=1, le=1_000_000_000)]
Declarable = Text | float | bool
"""A text, a number or a boolean; 1 and 1.0 are equal, 1 and true are not."""

LEAST_MAGNITUDE, GREATEST_MAGNITUDE = 1e-9, 1e12


def is_in_range(number: float) -> bool:
    """Whether a number is zero or of a magnitude from 1e-9 to 1e12; False for NaN and infinities."""
    return number == 0 or LEAST_MAGNITUDE <= abs(number) <= GREATEST_MAGNITUDE


CONTROL = re.compile(f"[{CONTROLS}]")


def written(number: float) -> str:
    """A number as it appears in a sentence: `-1`, `1e-10`, `0.5`."""
    return f"{number:.0f}" if float(number).is_integer() and abs(number) <= GREATEST_MAGNITUDE else repr(number)


def number_flaws(number: float, at: str) -> Iterator[Flaw]:
    """The flaw `beyond-range` of a grade's number that is neither zero nor of a magnitude from 1e-9 to 1e12."""
    if not is_in_range(number):
        text = f"{number!r} is out of range. Choose a unit in which it is 0, or from 1e-9 to 1e12."
        yield Flaw("beyond-range", text, at)
