"""The journal of all changes."""
