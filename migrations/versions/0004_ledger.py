"""The ledger: lots, and what was told of them in order; nothing of that is ever changed."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

KEPT = {
    "lot_changes": "EXISTS (SELECT 1 FROM lot_changes WHERE lot = NEW.lot AND (number = NEW.number OR key = NEW.key))",
}
"""By table that is only added to, when a row to be inserted would push out one that has to stay."""
REFUSAL = "what is recorded never changes"


def upgrade() -> None:
    """Make the tables, and the triggers that keep what is recorded as it is."""
    # Codes are ordered by their bytes, as SQLite orders them, so that a cursor means the same on both.
    code = sa.Text(collation="C" if op.get_bind().dialect.name == "postgresql" else None)
    op.create_table(
        "lots",
        sa.Column("lot", code, primary_key=True),
        sa.Column("grade", code, nullable=False),
        sa.Column("revision", sa.Integer, nullable=False),
        sa.Column("state", sa.Text, nullable=False),
        sa.Column("changes", sa.Integer, nullable=False),
        sa.Column("told", sa.Text, nullable=False),
        sa.Column("line", code),
        sa.Column("opened_at", sa.BigInteger, nullable=False),
        sa.Column("closed_at", sa.BigInteger),
        sa.Column("outcome", sa.Text),
        sa.Column("disposition", sa.Text),
        sa.ForeignKeyConstraint(["grade", "revision"], ["releases.grade", "releases.number"]),
    )
    op.create_index("lots_of_grade", "lots", ["grade", "line", "opened_at"])
    op.create_table(
        "lot_attributes",
        sa.Column("lot", code, sa.ForeignKey("lots.lot"), primary_key=True),
        sa.Column("name", code, primary_key=True),
        sa.Column("value", sa.Text, primary_key=True),
    )
    op.create_index("lots_of_attribute", "lot_attributes", ["name", "value", "lot"])
    _insert_only(code)
    for statement in _triggers(op.get_bind().dialect.name):
        op.execute(statement)


def _insert_only(code: sa.Text) -> None:
    """The tables that are only added to."""
    op.create_table(
        "lot_changes",
        sa.Column("lot", code, sa.ForeignKey("lots.lot"), primary_key=True),
        _number(),
        sa.Column("at", sa.BigInteger, nullable=False),
        sa.Column("by", sa.Text, nullable=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("key", code, nullable=False),
        sa.Column("digest", sa.Text, nullable=False),
        sa.Column("document", sa.Text, nullable=False),
        sa.UniqueConstraint("lot", "key"),
    )


def _number() -> sa.Column[int]:
    return sa.Column("number", sa.Integer, primary_key=True, autoincrement=False)


def downgrade() -> None:
    """Take the tables away, and with them all lots."""
    for table in ("lot_changes", "lot_attributes", "lots"):
        op.drop_table(table)
    if op.get_bind().dialect.name == "postgresql":
        op.execute("DROP FUNCTION markeryarn_keep()")


def _triggers(dialect: str) -> list[str]:
    """What refuses to change or delete what is recorded."""
    if dialect == "sqlite":
        refuse = f"SELECT RAISE(ABORT, '{REFUSAL}')"
        made = [
            f"CREATE TRIGGER {table}_keep_{event.lower()} BEFORE {event} ON {table} BEGIN {refuse}; END"
            for table in KEPT
            for event in ("UPDATE", "DELETE")
        ]
        # INSERT OR REPLACE deletes the row that is in its way, and asks no trigger on DELETE.
        return made + [
            f"CREATE TRIGGER {table}_keep_insert BEFORE INSERT ON {table} WHEN {there} BEGIN {refuse}; END"
            for table, there in KEPT.items()
        ]
    body = f"BEGIN RAISE EXCEPTION '{REFUSAL}'; END"
    return [
        f"CREATE FUNCTION markeryarn_keep() RETURNS trigger LANGUAGE plpgsql AS $$ {body} $$",
        *(
            f"CREATE TRIGGER {table}_keep BEFORE UPDATE OR DELETE OR TRUNCATE ON {table} "
            "FOR EACH STATEMENT EXECUTE FUNCTION markeryarn_keep()"
            for table in KEPT
        ),
    ]
