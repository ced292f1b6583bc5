"""Readings as columns of exact numbers: sums, extremes, order and rounding, with no float that decides.

`column_of` makes a column from the doubles of a series; its methods are those of the Protocol `Column`. Three classes
implement it: whole multiples of a step in plain Python (`whole`) or numpy (`long`), and quotients of whole numbers
(`quotients`) for inverted readings and ratios of readings.
"""
