"""Limits of requirements: those that depend on the lot, those that are guarded, and the rules that compare with them."""
