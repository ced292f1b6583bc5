"""Readings as columns of exact numbers: sums, extremes, order and rounding, without a float that decides.

A column is made of a series' doubles by `column_of`; what it can do is `Column`. Three ways of holding one stand behind
it: whole multiples of a step, in plain Python (`whole`) or numpy (`long`), and quotients of whole numbers (`quotients`),
which readings turned round and ratios of readings need.
"""
