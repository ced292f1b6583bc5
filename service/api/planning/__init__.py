"""Sampling plans."""
