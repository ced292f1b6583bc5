"""Claims on all lots."""
