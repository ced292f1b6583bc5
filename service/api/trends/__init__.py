"""Characteristics over lots."""
