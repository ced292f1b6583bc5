"""What is judged and not kept: checks, verdicts, draws, gradings, reviews."""
