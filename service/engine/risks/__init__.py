"""Statistics of sampling plans: the probability of acceptance, and the plans and factors that meet given risks.

Pure Python, and imported only where a plan needs it. Probabilities are floats for reports. Where one chooses a plan,
`counting` and `high_precision` decide the comparisons in which a float is nearer to the edge than its own error.
"""

# Floats, as exact probabilities of 100,000 packages have hundreds of thousands of digits.
