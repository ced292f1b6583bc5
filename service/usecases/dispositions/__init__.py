"""Decisions on judged lots: release, hold, regrade, rework, scrap, and concessions."""

from service.usecases.dispositions import disposing

__all__ = [
    "disposing",
]
