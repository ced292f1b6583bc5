"""Stored verdicts on lots."""
