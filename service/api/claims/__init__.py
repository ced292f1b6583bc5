"""Claims on lots."""
