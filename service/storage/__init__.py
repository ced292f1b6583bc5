"""Implementations of the ports over SQLAlchemy: embedded SQLite, or PostgreSQL for several replicas."""

from service.storage.catalogue import DatabaseCatalogue
from service.storage.database import Database, database
from service.storage.keys import DatabaseKeys
from service.storage.lots import DatabaseClosedLots, DatabaseLedger

__all__ = ["Database", "DatabaseCatalogue", "DatabaseClosedLots", "DatabaseKeys", "DatabaseLedger", "database"]
