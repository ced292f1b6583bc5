"""Bodies read strictly: every flaw, with its place."""
