"""Lots only go on: what no command does to them, to their attributes, to grades and to drafts, the database refuses."""

from typing import NamedTuple

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None


class Kept(NamedTuple):
    """What is refused of a table, each part by a trigger of its own."""

    refusal: str
    update: str
    """When an update is refused, of OLD and NEW; "" for always."""
    deletes: bool
    """Whether no row may be deleted, nor all of them at once."""
    there: str
    """When a row to be inserted would push out one that has to stay; "" where that would change nothing."""


ONLY_GOES_ON = "what is kept of a lot only goes on"
LOT = (
    # A lot stays what it was opened as, and each update comes with changes more.
    "NEW.lot <> OLD.lot OR NEW.grade <> OLD.grade OR NEW.opened_at <> OLD.opened_at OR NEW.line IS DISTINCT FROM OLD.line "
    "OR NEW.changes <= OLD.changes "
    # Whatever is judged stays judged, by the revision that it was judged by, and what is disposed of stays disposed of.
    "OR (OLD.state <> 'open' AND (NEW.state = 'open' OR NEW.outcome IS NULL OR NEW.revision <> OLD.revision)) "
    "OR NEW.revision < OLD.revision OR (OLD.disposition IS NOT NULL AND NEW.disposition IS NULL)"
)
TABLES = {
    "lots": Kept(ONLY_GOES_ON, LOT, deletes=True, there="EXISTS (SELECT 1 FROM lots WHERE lot = NEW.lot)"),
    # All columns are of its key, so that one which is pushed out comes back as it was.
    "lot_attributes": Kept(ONLY_GOES_ON, "", deletes=True, there=""),
    "grades": Kept("a grade stays", "", deletes=True, there="EXISTS (SELECT 1 FROM grades WHERE code = NEW.code)"),
    "revisions": Kept(
        "what is released never changes, and a draft only gets another document",
        "NEW.grade <> OLD.grade OR NEW.number <> OLD.number OR NEW.created_at <> OLD.created_at",
        deletes=True,
        there="",
    ),
    "catalogue_version": Kept("the catalogue's version never goes back", "NEW.version < OLD.version", deletes=False, there=""),
    "journal_head": Kept("the journal never goes back", "NEW.number < OLD.number", deletes=False, there=""),
}
"""By table. A copy that is restored replaces the last two, whose one row each migrations make."""


def upgrade() -> None:
    """Make the triggers. The release before does none of this either, so it may still run on the tables."""
    made = _postgresql_triggers if op.get_bind().dialect.name == "postgresql" else _sqlite_triggers
    for table, kept in TABLES.items():
        for statement in made(table, kept):
            op.execute(sa.text(statement))


def downgrade() -> None:
    """Take the triggers away; nothing that is kept changes."""
    if op.get_bind().dialect.name == "postgresql":
        for table in TABLES:
            op.execute(f"DROP FUNCTION markeryarn_go_on_{table}() CASCADE")
        return
    for table, kept in TABLES.items():
        for event in _events(kept):
            op.execute(f"DROP TRIGGER {table}_go_on_{event.lower()}")


def _events(kept: Kept) -> list[str]:
    """Before which SQLite asks a trigger."""
    return ["UPDATE", *(["DELETE"] if kept.deletes else []), *(["INSERT"] if kept.there else [])]


def _sqlite_triggers(table: str, kept: Kept) -> list[str]:
    # INSERT OR REPLACE deletes the row that is in its way, and asks no trigger on DELETE.
    when = {"UPDATE": kept.update, "DELETE": "", "INSERT": kept.there}
    return [
        f"CREATE TRIGGER {table}_go_on_{event.lower()} BEFORE {event} ON {table} {_when(when[event])} "
        f"BEGIN SELECT RAISE(ABORT, '{_quoted(kept.refusal)}'); END"
        for event in _events(kept)
    ]


def _when(condition: str) -> str:
    # SQLite before 3.39 knows no IS DISTINCT FROM.
    return f"WHEN {condition.replace('IS DISTINCT FROM', 'IS NOT')}" if condition else ""


def _postgresql_triggers(table: str, kept: Kept) -> list[str]:
    name, refuse = f"markeryarn_go_on_{table}", f"BEGIN RAISE EXCEPTION '{_quoted(kept.refusal)}'; END"
    update = f"FOR EACH ROW WHEN ({kept.update})" if kept.update else "FOR EACH STATEMENT"
    whole = ["DELETE OR TRUNCATE"] if kept.deletes else ["TRUNCATE"]
    return [
        f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ {refuse} $$",
        f"CREATE TRIGGER {table}_go_on BEFORE UPDATE ON {table} {update} EXECUTE FUNCTION {name}()",
        *(
            f"CREATE TRIGGER {table}_stay BEFORE {events} ON {table} FOR EACH STATEMENT EXECUTE FUNCTION {name}()"
            for events in whole
        ),
    ]


def _quoted(text: str) -> str:
    return text.replace("'", "''")
