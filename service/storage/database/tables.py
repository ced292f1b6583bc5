"""The tables. Times are whole microseconds since 1970 in both databases, so that they compare alike."""

from collections.abc import Mapping
from typing import Any

from sqlalchemy import (
    BigInteger,
    CheckConstraint,
    Column,
    ForeignKey,
    ForeignKeyConstraint,
    Index,
    Integer,
    MetaData,
    Table,
    Text,
    UniqueConstraint,
)

SCHEMA = "0009"
"""The version of the tables that this release needs."""
# A migration that only adds leaves it. One that removes something, or that an older release must not ignore, raises it: a
# release that knows no keys or no journal would let everybody in, or write rows without an entry.
OLDEST = "0007"
"""The oldest version whose release may still run on tables of version SCHEMA."""

metadata = MetaData()

grades = Table(
    "grades",
    metadata,
    Column("code", Text, primary_key=True),
    Column("created_at", BigInteger, nullable=False),
)
revisions = Table(
    "revisions",
    metadata,
    Column("grade", Text, ForeignKey("grades.code"), primary_key=True),
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("specification", Text, nullable=False),
    Column("digest", Text, nullable=False),
    Column("created_at", BigInteger, nullable=False),
    Column("author", Text),
)
releases = Table(
    "releases",
    metadata,
    Column("grade", Text, primary_key=True),
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("effective_from", BigInteger, nullable=False),
    Column("released_at", BigInteger, nullable=False),
    Column("version", BigInteger, nullable=False, unique=True),
    Column("released_by", Text),
    ForeignKeyConstraint(["grade", "number"], ["revisions.grade", "revisions.number"]),
)
withdrawals = Table(
    "withdrawals",
    metadata,
    Column("grade", Text, primary_key=True),
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("withdrawn_at", BigInteger, nullable=False),
    Column("reason", Text, nullable=False),
    Column("version", BigInteger, nullable=False, unique=True),
    Column("withdrawn_by", Text),
    ForeignKeyConstraint(["grade", "number"], ["releases.grade", "releases.number"]),
)
# Also the lock of all writes but those of lots (`lock_catalogue`).
catalogue_version = Table(
    "catalogue_version",
    metadata,
    Column("id", Integer, CheckConstraint("id = 1"), primary_key=True, autoincrement=False),
    Column("version", BigInteger, nullable=False),
)
journal = Table(
    "journal",
    metadata,
    Column("number", BigInteger, primary_key=True, autoincrement=False),
    Column("entry", Text, nullable=False),
    Column("digest", Text, nullable=False),
)
# Apart from the journal, so that there is a row to lock before the first entry, and `verify` finds a journal that was cut off.
journal_head = Table(
    "journal_head",
    metadata,
    Column("id", Integer, CheckConstraint("id = 1"), primary_key=True, autoincrement=False),
    Column("number", BigInteger, nullable=False),
    Column("digest", Text, nullable=False),
)
"""Number and digest of the journal's last entry, 0 and zeros before the first."""
schema_promise = Table(
    "schema_promise",
    metadata,
    Column("id", Integer, CheckConstraint("id = 1"), primary_key=True, autoincrement=False),
    Column("oldest", Text, nullable=False),
)
"""The oldest version of the tables whose release may still run on these."""
keys = Table(
    "keys",
    metadata,
    Column("key", Text, primary_key=True),
    Column("name", Text, nullable=False),
    Column("digest", Text, nullable=False, unique=True),
    Column("scopes", Text, nullable=False),
    Column("added_at", BigInteger, nullable=False),
    Column("expires_at", BigInteger),
)
key_revocations = Table(
    "key_revocations",
    metadata,
    Column("key", Text, ForeignKey("keys.key"), primary_key=True),
    Column("revoked_at", BigInteger, nullable=False),
    Column("revoked_by", Text, nullable=False),
    Column("reason", Text, nullable=False),
)
# A table of its own, since `keys` refuses updates and this row changes every minute or so.
key_uses = Table(
    "key_uses",
    metadata,
    Column("key", Text, ForeignKey("keys.key"), primary_key=True),
    Column("used_at", BigInteger, nullable=False),
)
# A row follows from its lot's changes alone (`row_after`); each group of writes compares both.
lots = Table(
    "lots",
    metadata,
    Column("lot", Text, primary_key=True),
    Column("grade", Text, nullable=False),
    Column("revision", Integer, nullable=False),
    Column("state", Text, nullable=False),
    Column("changes", Integer, nullable=False),
    Column("told", Text, nullable=False),
    Column("line", Text),
    Column("opened_at", BigInteger, nullable=False),
    Column("closed_at", BigInteger),
    Column("outcome", Text),
    Column("disposition", Text),
    ForeignKeyConstraint(["grade", "revision"], ["releases.grade", "releases.number"]),
    Index("lots_of_grade", "grade", "line", "opened_at"),
)
_UNDISPOSED: Mapping[str, Any] = {
    "sqlite_where": lots.c.disposition.is_(None),
    "postgresql_where": lots.c.disposition.is_(None),
}
for _order, _by in {"lot": (lots.c.lot,), "opening": (lots.c.opened_at, lots.c.lot)}.items():
    # For each filter of a list one index in each of its orders, so that no list reads more lots than it has.
    for _column in (lots.c.grade, lots.c.line, lots.c.state, lots.c.outcome, lots.c.disposition):
        Index(f"lots_of_{_column.name}_by_{_order}", _column, *_by)
    Index(f"lots_undisposed_by_{_order}", *_by, **_UNDISPOSED)
    Index(f"lots_undisposed_of_outcome_by_{_order}", lots.c.outcome, *_by, **_UNDISPOSED)
Index("lots_by_opening", lots.c.opened_at, lots.c.lot)
# The next four tables are filled by triggers on what is recorded (migration 0009), also while the release before writes. A copy
# leaves them out, as its rows fill them where it is restored; `verify` compares them.
lot_openings = Table(
    "lot_openings",
    metadata,
    Column("lot", Text, ForeignKey("lots.lot"), primary_key=True),
    Column("made", Text),
    Column("resubmits", Text),
    Index("lots_by_made", "made", "lot"),
)
"""What lists show of a lot's opening besides its row; `made` as YYYY-MM-DD."""
lot_failures = Table(
    "lot_failures",
    metadata,
    Column("lot", Text, ForeignKey("lots.lot"), primary_key=True),
    Column("requirement", Text, primary_key=True),
    Index("lots_of_failure", "requirement", "lot"),
)
"""The binding requirements that failed in a lot's newest verdict."""
lot_claims = Table(
    "lot_claims",
    metadata,
    Column("lot", Text, ForeignKey("lots.lot"), primary_key=True),
    Column("claim", Text, primary_key=True),
    Column("grade", Text, nullable=False),
    Column("at", BigInteger, nullable=False),
    Column("settled_at", BigInteger),
    Index("claims_by_time", "at", "lot", "claim"),
    Index("claims_of_grade", "grade", "at", "lot", "claim"),
)
for _name, _of in {"open_claims": (), "open_claims_of_grade": (lot_claims.c.grade,)}.items():
    _open = lot_claims.c.settled_at.is_(None)
    _columns = (*_of, lot_claims.c.at, lot_claims.c.lot, lot_claims.c.claim)
    Index(_name, *_columns, sqlite_where=_open, postgresql_where=_open)
instrument_terms = Table(
    "instrument_terms",
    metadata,
    Column("instrument", Text, primary_key=True),
    Column("calibrated_until", Text, nullable=False),
    Index("instruments_by_term", "calibrated_until", "instrument"),
)
"""Until when an instrument is calibrated, by its newest version, as YYYY-MM-DD; no row where that states no day."""
DERIVED = (lot_openings, lot_failures, lot_claims, instrument_terms)
"""The tables that triggers fill."""
lot_attributes = Table(
    "lot_attributes",
    metadata,
    Column("lot", Text, ForeignKey("lots.lot"), primary_key=True),
    Column("name", Text, primary_key=True),
    Column("value", Text, primary_key=True),
    Index("lots_of_attribute", "name", "value", "lot"),
)
lot_changes = Table(
    "lot_changes",
    metadata,
    Column("lot", Text, ForeignKey("lots.lot"), primary_key=True),
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("at", BigInteger, nullable=False),
    Column("by", Text, nullable=False),
    Column("kind", Text, nullable=False),
    Column("key", Text, nullable=False),
    Column("digest", Text, nullable=False),
    Column("document", Text, nullable=False),
    # What makes a batch that is sent twice count once.
    UniqueConstraint("lot", "key"),
)
verdicts = Table(
    "verdicts",
    metadata,
    Column("lot", Text, ForeignKey("lots.lot"), primary_key=True),
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("at", BigInteger, nullable=False),
    Column("by", Text, nullable=False),
    Column("outcome", Text, nullable=False),
    Column("grade", Text, nullable=False),
    Column("revision", Integer, nullable=False),
    Column("results", Text, nullable=False),
    Column("evidence", Text, nullable=False),
    Column("verdict", Text, nullable=False),
    ForeignKeyConstraint(["grade", "revision"], ["releases.grade", "releases.number"]),
    Index("verdicts_of_grade", "grade", "at", "lot"),
)
"""Verdicts with their evidence; `results` is what the switching rules count."""
line_decisions = Table(
    "line_decisions",
    metadata,
    Column("grade", Text, primary_key=True),
    Column("line", Text, primary_key=True),
    Column("id", Text, primary_key=True),
    Column("at", BigInteger, nullable=False),
    Column("by", Text, nullable=False),
    Column("document", Text, nullable=False),
)
"""Decisions of managers about the severity of a line's inspection."""
instruments = Table(
    "instruments",
    metadata,
    Column("instrument", Text, primary_key=True),
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("at", BigInteger, nullable=False),
    Column("by", Text, nullable=False),
    Column("document", Text, nullable=False),
)
