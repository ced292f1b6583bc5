"""The rules of the trade: what a lot of cordage is judged by, and how. Pure: no input or output, no clock, no framework.

On top stand the verbs that a caller uses: judging, checking, drawing, grading, reviewing. Each folder says in its first line
what it is for, exports what others may use, and knows only the folders below it in this order: documents, numbers, risks,
sampling, characteristics, deriving, lot, requirements, grade; above the verbs switching, trends, comparing, impact, ledger.
"""

ENGINE = "1"
"""Numbers the rules: kinds, plans, units, rounding, defaults, not wording. The same number gives the same verdict for ever."""
