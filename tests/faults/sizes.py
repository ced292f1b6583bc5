"""How long these tests go on: short by default, long where MARKERYARN_TEST_LONG is set."""

import os

LONG = bool(os.environ.get("MARKERYARN_TEST_LONG"))


def of_two(short: int, long: int) -> int:
    """The number for this run."""
    return long if LONG else short
