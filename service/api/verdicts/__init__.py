"""Verdicts that are kept."""
