"""Verdicts on lots, whole and with the evidence that they rest on; none of them ever changes."""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None

REFUSAL = "what is recorded never changes"


def upgrade() -> None:
    """Make the table, and the triggers that keep each verdict as it was recorded."""
    dialect = op.get_bind().dialect.name
    code = sa.Text(collation="C" if dialect == "postgresql" else None)
    op.create_table(
        "verdicts",
        sa.Column("lot", code, sa.ForeignKey("lots.lot"), primary_key=True),
        sa.Column("number", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("at", sa.BigInteger, nullable=False),
        sa.Column("by", sa.Text, nullable=False),
        sa.Column("outcome", sa.Text, nullable=False),
        sa.Column("grade", code, nullable=False),
        sa.Column("revision", sa.Integer, nullable=False),
        sa.Column("results", sa.Text, nullable=False),
        sa.Column("evidence", sa.Text, nullable=False),
        sa.Column("verdict", sa.Text, nullable=False),
        sa.ForeignKeyConstraint(["grade", "revision"], ["releases.grade", "releases.number"]),
    )
    op.create_index("verdicts_of_grade", "verdicts", ["grade", "at", "lot"])
    for statement in _triggers(dialect):
        op.execute(statement)
    # A release that knows no verdicts takes readings of a lot that waits, and records none on them.
    op.execute("UPDATE schema_promise SET oldest = '0005'")


def downgrade() -> None:
    """Take the table away, and with it all verdicts."""
    op.execute("UPDATE schema_promise SET oldest = '0003'")
    op.drop_table("verdicts")


def _triggers(dialect: str) -> list[str]:
    """What refuses to change or delete a verdict."""
    if dialect == "postgresql":
        when = "BEFORE UPDATE OR DELETE OR TRUNCATE ON verdicts FOR EACH STATEMENT"
        return [f"CREATE TRIGGER verdicts_keep {when} EXECUTE FUNCTION markeryarn_keep()"]
    refuse = f"BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END"
    # INSERT OR REPLACE deletes the row that is in its way, and asks no trigger on DELETE.
    there = "EXISTS (SELECT 1 FROM verdicts WHERE lot = NEW.lot AND number = NEW.number)"
    return [
        f"CREATE TRIGGER verdicts_keep_update BEFORE UPDATE ON verdicts {refuse}",
        f"CREATE TRIGGER verdicts_keep_delete BEFORE DELETE ON verdicts {refuse}",
        f"CREATE TRIGGER verdicts_keep_insert BEFORE INSERT ON verdicts WHEN {there} {refuse}",
    ]
