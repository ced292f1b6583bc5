"""Keys: digests of what callers show, which are revoked, and when each was last used."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

INSERT_ONLY = ("keys", "key_revocations")
REPLACED = {
    "keys": "EXISTS (SELECT 1 FROM keys WHERE key = NEW.key OR digest = NEW.digest)",
    "key_revocations": "EXISTS (SELECT 1 FROM key_revocations WHERE key = NEW.key)",
}
"""By table, when a row to be inserted would push out one that has to stay."""


def upgrade() -> None:
    """Make the tables, and the triggers that keep a key from being changed, and a revoked one from coming back."""
    is_postgresql = op.get_bind().dialect.name == "postgresql"
    key = sa.Text(collation="C" if is_postgresql else None)
    op.create_table(
        "keys",
        sa.Column("key", key, primary_key=True),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("digest", sa.Text, nullable=False, unique=True),
        sa.Column("scopes", sa.Text, nullable=False),
        sa.Column("added_at", sa.BigInteger, nullable=False),
        sa.Column("expires_at", sa.BigInteger),
    )
    op.create_table(
        "key_revocations",
        sa.Column("key", key, sa.ForeignKey("keys.key"), primary_key=True),
        sa.Column("revoked_at", sa.BigInteger, nullable=False),
        sa.Column("revoked_by", sa.Text, nullable=False),
        sa.Column("reason", sa.Text, nullable=False),
    )
    op.create_table(
        "key_uses",
        sa.Column("key", key, sa.ForeignKey("keys.key"), primary_key=True),
        sa.Column("used_at", sa.BigInteger, nullable=False),
    )
    for statement in _postgresql_triggers() if is_postgresql else _sqlite_triggers():
        op.execute(statement)
    # The release before asks nobody for a key.
    op.execute("UPDATE schema_promise SET oldest = '0003'")


def downgrade() -> None:
    """Take the tables away, and with them all keys."""
    op.execute("UPDATE schema_promise SET oldest = '0002'")
    for table in ("key_uses", "key_revocations", "keys"):
        op.drop_table(table)
    if op.get_bind().dialect.name == "postgresql":
        op.execute("DROP FUNCTION markeryarn_refuse_keys()")


def _sqlite_triggers() -> list[str]:
    refuse = "SELECT RAISE(ABORT, 'a key never changes; revoke it and add another')"
    made = [
        f"CREATE TRIGGER {table}_keep_{event.lower()} BEFORE {event} ON {table} BEGIN {refuse}; END"
        for table in INSERT_ONLY
        for event in ("UPDATE", "DELETE")
    ]
    # INSERT OR REPLACE deletes the row that is in its way, and asks no trigger on DELETE.
    made += [
        f"CREATE TRIGGER {table}_keep_insert BEFORE INSERT ON {table} WHEN {there} BEGIN {refuse}; END"
        for table, there in REPLACED.items()
    ]
    return made


def _postgresql_triggers() -> list[str]:
    body = "RAISE EXCEPTION 'a key never changes; revoke it and add another';"
    made = [f"CREATE FUNCTION markeryarn_refuse_keys() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN {body} END $$"]
    made += [
        f"CREATE TRIGGER {table}_keep BEFORE UPDATE OR DELETE OR TRUNCATE ON {table} "
        "FOR EACH STATEMENT EXECUTE FUNCTION markeryarn_refuse_keys()"
        for table in INSERT_ONLY
    ]
    return made
