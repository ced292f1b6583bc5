"""The catalogue in a database: SQLite embedded, PostgreSQL when it is outgrown, by the same statements."""

from service.storage.catalogue import DatabaseCatalogue
from service.storage.connecting import Database, database
from service.storage.history import DatabaseHistory
from service.storage.keys import DatabaseKeys
from service.storage.ledger import DatabaseLedger

__all__ = ["Database", "DatabaseCatalogue", "DatabaseHistory", "DatabaseKeys", "DatabaseLedger", "database"]
