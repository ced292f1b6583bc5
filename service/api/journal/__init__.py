"""The journal: a hash chain of all changes."""
