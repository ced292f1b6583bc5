"""Instruments in all their versions; none of them ever changes."""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None

REFUSAL = "what is recorded never changes"


def upgrade() -> None:
    """Make the table, and the triggers that keep each version as it was recorded."""
    dialect = op.get_bind().dialect.name
    code = sa.Text(collation="C" if dialect == "postgresql" else None)
    op.create_table(
        "instruments",
        sa.Column("instrument", code, primary_key=True),
        sa.Column("number", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("at", sa.BigInteger, nullable=False),
        sa.Column("by", sa.Text, nullable=False),
        sa.Column("document", sa.Text, nullable=False),
    )
    for statement in _triggers(dialect):
        op.execute(statement)
    # A release that knows no instruments would take readings of an overdue one unmarked, and can't read marked batches.
    op.execute("UPDATE schema_promise SET oldest = '0006'")


def downgrade() -> None:
    """Take the table away, and with it all instruments. Batches that hold marks stay; the release before can't read them."""
    op.execute("UPDATE schema_promise SET oldest = '0005'")
    op.drop_table("instruments")


def _triggers(dialect: str) -> list[str]:
    """What refuses to change or delete a version."""
    if dialect == "postgresql":
        when = "BEFORE UPDATE OR DELETE OR TRUNCATE ON instruments FOR EACH STATEMENT"
        return [f"CREATE TRIGGER instruments_keep {when} EXECUTE FUNCTION markeryarn_keep()"]
    refuse = f"BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END"
    # INSERT OR REPLACE deletes the row that is in its way, and asks no trigger on DELETE.
    there = "EXISTS (SELECT 1 FROM instruments WHERE instrument = NEW.instrument AND number = NEW.number)"
    return [
        f"CREATE TRIGGER instruments_keep_update BEFORE UPDATE ON instruments {refuse}",
        f"CREATE TRIGGER instruments_keep_delete BEFORE DELETE ON instruments {refuse}",
        f"CREATE TRIGGER instruments_keep_insert BEFORE INSERT ON instruments WHEN {there} {refuse}",
    ]
