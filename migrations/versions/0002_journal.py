"""Who changed the catalogue: names beside its rows and the journal; and which releases may run on the tables."""

from datetime import UTC, datetime
from hashlib import sha256

import rfc8785
import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

NOBODY = "local"
"""Who did what was done before anybody had a key."""
BEFORE_THE_FIRST = "sha256:" + "0" * 64
REFUSAL = "what the journal has never changes"
NAMES = (("revisions", "author"), ("releases", "released_by"), ("withdrawals", "withdrawn_by"))
SO_FAR = """
    SELECT 'draft-added' AS what, 0 AS rank, grade, number, created_at AS at, digest, NULL AS effective_from, NULL AS reason
    FROM revisions
    UNION ALL
    SELECT 'revision-released', 1, releases.grade, releases.number, released_at, digest, effective_from, NULL
    FROM releases JOIN revisions ON revisions.grade = releases.grade AND revisions.number = releases.number
    UNION ALL
    SELECT 'revision-withdrawn', 2, grade, number, withdrawn_at, NULL, NULL, reason FROM withdrawals
    ORDER BY 5, 2, 3, 4
"""
"""All that was done before there was a journal, in the order in which it was done."""


def upgrade() -> None:
    """Add the names and the journal, with an entry for all that was done so far."""
    for table, column in NAMES:
        op.add_column(table, sa.Column(column, sa.Text))
    op.create_table(
        "journal",
        sa.Column("number", sa.BigInteger, primary_key=True, autoincrement=False),
        sa.Column("entry", sa.Text, nullable=False),
        sa.Column("digest", sa.Text, nullable=False),
    )
    op.create_table(
        "journal_head",
        sa.Column("id", sa.Integer, sa.CheckConstraint("id = 1"), primary_key=True, autoincrement=False),
        sa.Column("number", sa.BigInteger, nullable=False),
        sa.Column("digest", sa.Text, nullable=False),
    )
    op.create_table(
        "schema_promise",
        sa.Column("id", sa.Integer, sa.CheckConstraint("id = 1"), primary_key=True, autoincrement=False),
        sa.Column("oldest", sa.Text, nullable=False),
    )
    op.execute("INSERT INTO schema_promise (id, oldest) VALUES (1, '0002')")
    _begin_journal()
    for statement in _sqlite_triggers() if op.get_bind().dialect.name == "sqlite" else _postgresql_triggers():
        op.execute(statement)


def downgrade() -> None:
    """Take the journal away, and the names."""
    for table in ("schema_promise", "journal_head", "journal"):
        op.drop_table(table)
    for table, column in NAMES:
        op.drop_column(table, column)
    if op.get_bind().dialect.name == "postgresql":
        op.execute("DROP FUNCTION markeryarn_refuse_journal()")


def _begin_journal() -> None:
    """Write an entry for each change that the tables tell of."""
    connection = op.get_bind()
    number, head = 0, BEFORE_THE_FIRST
    insert = sa.text("INSERT INTO journal (number, entry, digest) VALUES (:number, :entry, :digest)")
    for row in connection.execute(sa.text(SO_FAR)).all():
        number += 1
        about = {"grade": row.grade, "revision": row.number, "specification": row.digest, "reason": row.reason}
        if row.effective_from is not None:
            about["effective_from"] = _written(row.effective_from)
        entry = {name: said for name, said in about.items() if said is not None}
        entry |= {"number": number, "at": _written(row.at), "by": NOBODY, "what": row.what, "previous": head}
        content = rfc8785.dumps(entry)
        head = "sha256:" + sha256(content).hexdigest()
        connection.execute(insert, {"number": number, "entry": content.decode(), "digest": head})
    begin = sa.text("INSERT INTO journal_head (id, number, digest) VALUES (1, :number, :digest)")
    connection.execute(begin, {"number": number, "digest": head})


def _written(microseconds: int) -> str:
    """A stored moment as entries have it."""
    seconds, rest = divmod(microseconds, 1_000_000)
    return datetime.fromtimestamp(seconds, UTC).replace(microsecond=rest, tzinfo=None).isoformat(timespec="microseconds") + "Z"


def _sqlite_triggers() -> list[str]:
    refuse = f"SELECT RAISE(ABORT, '{REFUSAL}')"
    made = [
        f"CREATE TRIGGER journal_keep_{event.lower()} BEFORE {event} ON journal BEGIN {refuse}; END"
        for event in ("UPDATE", "DELETE")
    ]
    # INSERT OR REPLACE deletes the row that is in its way, and asks no trigger on DELETE.
    there = "EXISTS (SELECT 1 FROM journal WHERE number = NEW.number)"
    return [*made, f"CREATE TRIGGER journal_keep_insert BEFORE INSERT ON journal WHEN {there} BEGIN {refuse}; END"]


def _postgresql_triggers() -> list[str]:
    name, events = "markeryarn_refuse_journal", "UPDATE OR DELETE OR TRUNCATE"
    return [
        f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN RAISE EXCEPTION '{REFUSAL}'; END $$",
        f"CREATE TRIGGER journal_keep BEFORE {events} ON journal FOR EACH STATEMENT EXECUTE FUNCTION {name}()",
    ]
