"""Judgements that are not stored: checks, verdicts, draws, gradings, reviews."""
