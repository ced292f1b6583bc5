"""Lines of the log, and figures."""
