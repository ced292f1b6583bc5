"""Grades and their revisions."""
