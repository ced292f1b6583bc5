"""The risk of a plan: how likely it is to accept what quality, and the plans and factors that a risk asks for.

Pure Python, and imported only where a plan asks for it. Probabilities are floats: they are reported, and decide nothing by
themselves. Where a plan is chosen by one, `counting` and `careful` decide exactly what a float is too near to tell.
"""
