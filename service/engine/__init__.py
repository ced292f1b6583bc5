"""The engine: how a lot of cordage is judged by a grade. Pure: no input or output, no clock, no framework.

The modules of this folder are what a caller uses: judging, checking, drawing, grading, reviewing. The first line of each
subfolder's `__init__.py` says what it is for, and its `__all__` what others may import. A subfolder imports only from those
before it in this order: documents, numbers, risks, sampling, characteristics, deriving, lot, requirements, grade, then the
modules of this folder, then switching, trends, comparing, impact, ledger.
"""

ENGINE = "1"
"""The version of the rules: kinds, plans, units, rounding, defaults, but not wording. Equal versions give equal verdicts."""
