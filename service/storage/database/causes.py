"""Causes of database errors as sentences for the operator: what happened and what to do, never a secret."""

import socket
import sqlite3
from collections.abc import Iterator, Mapping

from sqlalchemy.exc import TimeoutError as NoFreeConnectionError

SETTING = "MARKERYARN_DATABASE_URL"
NO_TABLES = "The database has no tables yet. Run `markeryarn migrate`."
SENTENCE_BY_SQLSTATE: Mapping[str, str] = {
    "28P01": f"PostgreSQL refuses the password. Correct it in {SETTING}.",
    "28000": f"PostgreSQL does not let this user in. Correct the user in {SETTING}, or allow it in pg_hba.conf.",
    "3D000": f"PostgreSQL has no database of this name. Create it with `createdb`, or correct the name in {SETTING}.",
    "42P01": NO_TABLES,
    "42501": f"The user in {SETTING} may not do this with the tables. Grant it all privileges on them.",
    "57P03": "PostgreSQL is starting or stopping. Try again in a moment.",
    "57P01": "PostgreSQL has cut the connection, as it is stopping. Try again in a moment.",
    "53300": "PostgreSQL takes no more connections. Raise its max_connections, or lower MARKERYARN_POOL_SIZE.",
    "53100": "The disk of PostgreSQL is full. Free some space on it.",
    "25006": f"PostgreSQL takes no changes: it is a standby, or set to read only. Name the primary server in {SETTING}.",
    "55P03": "Another transaction has held a lock for longer than MARKERYARN_STATEMENT_TIMEOUT. Try again.",
    "57014": "A statement took longer than MARKERYARN_STATEMENT_TIMEOUT. Raise it, or see what the database is busy with.",
}
"""Sentence by SQLSTATE. Source: PostgreSQL documentation, appendix A, error codes."""
SENTENCE_BY_SQLITE_CODE: Mapping[str, str] = {
    "SQLITE_CANTOPEN": f"The database file can't be opened. Correct its path in {SETTING}, or its rights.",
    "SQLITE_NOTADB": f"The file in {SETTING} is not an SQLite database. Name another one.",
    "SQLITE_READONLY": "The database file can't be written. Give the service the right to write it and its folder.",
    "SQLITE_BUSY": "Another program has locked the database file for writing. End it, or wait until it has finished.",
    "SQLITE_LOCKED": "Another program has locked the database file for writing. End it, or wait until it has finished.",
    "SQLITE_FULL": "The disk of the database file is full. Free some space on it.",
    "SQLITE_IOERR": "The disk of the database file has failed at reading or writing. Check the disk.",
    "SQLITE_CORRUPT": "The database file is damaged. Restore a copy with `markeryarn restore`.",
    "SQLITE_AUTH": "The database file can't be written. Give the service the right to write it and its folder.",
}
"""Sentence by the first two words of SQLite's result code. Source: SQLite documentation, result and error codes."""
REFUSED = f"No server listens at the address of PostgreSQL. Start it, or correct host and port in {SETTING}."
UNKNOWN_HOST = f"The host of PostgreSQL is not known. Correct it in {SETTING}, or check the name service."
NOT_IN_TIME = "PostgreSQL has not answered in time. Check that it can be reached from here, and what it is busy with."
CUT = "The connection to PostgreSQL was cut. Try again in a moment; if it is cut again, check server and network."
NO_FREE_CONNECTION = "All connections to the database are in use. Try again, or raise MARKERYARN_POOL_SIZE."
UNKNOWN = "The database failed for an unknown reason; see the log for what its driver says."


def why(error: BaseException) -> str:
    """Return the sentence for an error of the database driver or of the operating system below it."""
    if isinstance(error, NoFreeConnectionError):
        return NO_FREE_CONNECTION
    return next((text for cause in _causes(error) if (text := _sentence(cause))), UNKNOWN)


def _causes(error: BaseException | None) -> Iterator[BaseException]:
    """The error and everything that caused it, breadth first; SQLAlchemy has the driver's own error in `orig`."""
    # By identity, as chains of exceptions may have cycles and exceptions compare by what their class says.
    visited: set[int] = set()
    pending = [error]
    while pending:
        cause = pending.pop(0)
        if cause is not None and id(cause) not in visited:
            visited.add(id(cause))
            yield cause
            pending += [getattr(cause, "orig", None), cause.__cause__, cause.__context__]


def _sentence(error: BaseException) -> str:
    """The sentence for this error alone; "" if it identifies no cause."""
    if isinstance(error, sqlite3.Error):
        return _sqlite_sentence(error)
    state = getattr(error, "sqlstate", None)
    if isinstance(state, str):
        # Class 08 is PostgreSQL's for connection exceptions.
        return SENTENCE_BY_SQLSTATE.get(state) or (CUT if state.startswith("08") else "")
    if isinstance(error, socket.gaierror):
        return UNKNOWN_HOST
    # FileNotFoundError: the socket file of a local server that does not run.
    if isinstance(error, ConnectionRefusedError | FileNotFoundError):
        return REFUSED
    if isinstance(error, TimeoutError):
        return NOT_IN_TIME
    return CUT if isinstance(error, ConnectionError) else ""


def _sqlite_sentence(error: sqlite3.Error) -> str:
    name = getattr(error, "sqlite_errorname", None)
    if not isinstance(name, str):
        return ""
    # SQLite has no code of its own for it, only SQLITE_ERROR.
    if "no such table" in str(error):
        return NO_TABLES
    return SENTENCE_BY_SQLITE_CODE.get("_".join(name.split("_")[:2]), "")
