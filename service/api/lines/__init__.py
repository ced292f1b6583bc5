"""Switching: the severity of inspection of a line's lots."""
