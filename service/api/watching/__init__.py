"""Observability: log lines, metrics, trace ids."""
