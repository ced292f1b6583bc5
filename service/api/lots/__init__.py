"""Lots that collect readings."""
