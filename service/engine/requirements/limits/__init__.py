"""Limits of requirements: limits that depend on the lot, guard bands, and the compiled requirements that have limits."""
