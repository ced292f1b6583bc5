"""How long a run of the tests is: short by default, long where MARKERYARN_TEST_LONG is set."""

import os

LONG_FORM = "MARKERYARN_TEST_LONG=1"
LONG = bool(os.environ.get("MARKERYARN_TEST_LONG"))


def of_two(short: int, long: int) -> int:
    """The number for this run."""
    return long if LONG else short


AGREEMENT = int(os.environ.get("MARKERYARN_AGREEMENT_CASES", of_two(4_000, 20_400)))
"""How many lots at the edge the engine and the simple judge both judge, and an eighth as many of each special kind."""
