"""The catalogue: grades, revisions, releases, withdrawals, and the version that replicas watch."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

INSERT_ONLY = ("releases", "withdrawals")
REPLACED = {
    "revisions": "EXISTS (SELECT 1 FROM releases WHERE grade = NEW.grade AND number = NEW.number)",
    "releases": "EXISTS (SELECT 1 FROM releases WHERE (grade = NEW.grade AND number = NEW.number) OR version = NEW.version)",
    "withdrawals": (
        "EXISTS (SELECT 1 FROM withdrawals WHERE (grade = NEW.grade AND number = NEW.number) OR version = NEW.version)"
    ),
}
"""By table, when a row to be inserted would push out one that has to stay."""


def upgrade() -> None:
    """Make the tables, and the triggers that keep what is released as it is."""
    # Codes are ordered by their bytes, as SQLite orders them, so that a cursor means the same on both.
    code = sa.Text(collation="C" if op.get_bind().dialect.name == "postgresql" else None)
    op.create_table(
        "grades",
        sa.Column("code", code, primary_key=True),
        sa.Column("created_at", sa.BigInteger, nullable=False),
    )
    op.create_table(
        "revisions",
        sa.Column("grade", code, sa.ForeignKey("grades.code"), primary_key=True),
        sa.Column("number", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("specification", sa.Text, nullable=False),
        sa.Column("digest", sa.Text, nullable=False),
        sa.Column("created_at", sa.BigInteger, nullable=False),
    )
    op.create_table(
        "releases",
        sa.Column("grade", code, primary_key=True),
        sa.Column("number", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("effective_from", sa.BigInteger, nullable=False),
        sa.Column("released_at", sa.BigInteger, nullable=False),
        sa.Column("version", sa.BigInteger, nullable=False, unique=True),
        sa.ForeignKeyConstraint(["grade", "number"], ["revisions.grade", "revisions.number"]),
    )
    op.create_table(
        "withdrawals",
        sa.Column("grade", code, primary_key=True),
        sa.Column("number", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("withdrawn_at", sa.BigInteger, nullable=False),
        sa.Column("reason", sa.Text, nullable=False),
        sa.Column("version", sa.BigInteger, nullable=False, unique=True),
        sa.ForeignKeyConstraint(["grade", "number"], ["releases.grade", "releases.number"]),
    )
    op.create_table(
        "catalogue_version",
        sa.Column("id", sa.Integer, sa.CheckConstraint("id = 1"), primary_key=True, autoincrement=False),
        sa.Column("version", sa.BigInteger, nullable=False),
    )
    op.execute("INSERT INTO catalogue_version (id, version) VALUES (1, 0)")
    for statement in _triggers(op.get_bind().dialect.name):
        op.execute(statement)


def downgrade() -> None:
    """Take the tables away, and with them all grades."""
    for table in ("catalogue_version", "withdrawals", "releases", "revisions", "grades"):
        op.drop_table(table)
    if op.get_bind().dialect.name == "postgresql":
        op.execute("DROP FUNCTION markeryarn_refuse()")
        op.execute("DROP FUNCTION markeryarn_refuse_if_released()")


def _triggers(dialect: str) -> list[str]:
    """Releases and withdrawals are never changed or deleted, nor the document of a released revision."""
    return _sqlite_triggers() if dialect == "sqlite" else _postgresql_triggers()


def _sqlite_triggers() -> list[str]:
    released = "EXISTS (SELECT 1 FROM releases WHERE grade = OLD.grade AND number = OLD.number)"
    refuse = "SELECT RAISE(ABORT, 'what is released never changes')"
    made = [
        f"CREATE TRIGGER {table}_keep_{event.lower()} BEFORE {event} ON {table} BEGIN {refuse}; END"
        for table in INSERT_ONLY
        for event in ("UPDATE", "DELETE")
    ]
    made += [
        f"CREATE TRIGGER revisions_keep_{event.lower()} BEFORE {event} ON revisions WHEN {released} BEGIN {refuse}; END"
        for event in ("UPDATE", "DELETE")
    ]
    # INSERT OR REPLACE deletes the row that is in its way, and asks no trigger on DELETE.
    made += [
        f"CREATE TRIGGER {table}_keep_insert BEFORE INSERT ON {table} WHEN {there} BEGIN {refuse}; END"
        for table, there in REPLACED.items()
    ]
    return made


def _postgresql_triggers() -> list[str]:
    refuse = "RAISE EXCEPTION 'what is released never changes'"
    exists = "EXISTS (SELECT 1 FROM releases WHERE grade = OLD.grade AND number = OLD.number)"
    result = "IF TG_OP = 'DELETE' THEN RETURN OLD; END IF; RETURN NEW;"
    function = "CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN {body} END $$"
    trigger = "CREATE TRIGGER {table}_keep BEFORE {events} ON {table} FOR EACH {each} EXECUTE FUNCTION {name}()"
    always, if_released = "markeryarn_refuse", "markeryarn_refuse_if_released"
    insert_only = [
        trigger.format(table=table, events="UPDATE OR DELETE OR TRUNCATE", each="STATEMENT", name=always)
        for table in INSERT_ONLY
    ]
    return [
        function.format(name=always, body=f"{refuse};"),
        function.format(name=if_released, body=f"IF {exists} THEN {refuse}; END IF; {result}"),
        *insert_only,
        trigger.format(table="revisions", events="UPDATE OR DELETE", each="ROW", name=if_released),
    ]
