"""Concessions for lots and dispositions of lots."""
