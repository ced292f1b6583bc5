"""What managers decide about the inspection of lines; no decision ever changes."""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None

REFUSAL = "what is recorded never changes"


def upgrade() -> None:
    """Make the table, and the triggers that keep each decision as it was recorded."""
    dialect = op.get_bind().dialect.name
    code = sa.Text(collation="C" if dialect == "postgresql" else None)
    op.create_table(
        "line_decisions",
        sa.Column("grade", code, primary_key=True),
        sa.Column("line", code, primary_key=True),
        sa.Column("id", code, primary_key=True),
        sa.Column("at", sa.BigInteger, nullable=False),
        sa.Column("by", sa.Text, nullable=False),
        sa.Column("document", sa.Text, nullable=False),
    )
    for statement in _triggers(dialect):
        op.execute(statement)
    # A release that knows no lines can't read openings that carry their inspection, and would open lots without it.
    op.execute("UPDATE schema_promise SET oldest = '0007'")


def downgrade() -> None:
    """Take the table away, and all decisions. The release before can not read openings that carry an inspection; they stay."""
    op.execute("UPDATE schema_promise SET oldest = '0006'")
    op.drop_table("line_decisions")


def _triggers(dialect: str) -> list[str]:
    """What refuses to change or delete a decision."""
    if dialect == "postgresql":
        when = "BEFORE UPDATE OR DELETE OR TRUNCATE ON line_decisions FOR EACH STATEMENT"
        return [f"CREATE TRIGGER line_decisions_keep {when} EXECUTE FUNCTION markeryarn_keep()"]
    refuse = f"BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END"
    # INSERT OR REPLACE deletes the row that is in its way, and asks no trigger on DELETE.
    there = "EXISTS (SELECT 1 FROM line_decisions WHERE grade = NEW.grade AND line = NEW.line AND id = NEW.id)"
    return [
        f"CREATE TRIGGER line_decisions_keep_update BEFORE UPDATE ON line_decisions {refuse}",
        f"CREATE TRIGGER line_decisions_keep_delete BEFORE DELETE ON line_decisions {refuse}",
        f"CREATE TRIGGER line_decisions_keep_insert BEFORE INSERT ON line_decisions WHEN {there} {refuse}",
    ]
