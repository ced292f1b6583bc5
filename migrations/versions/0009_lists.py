"""What lists of lots, claims and instruments select by: tables that triggers fill, and indexes for each order and filter.

Triggers rather than statements of the service, so that the release before, which knows none of these tables, fills them too.
"""

from typing import NamedTuple

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None

NO_DISPOSITION = "disposition IS NULL"


class Listed(NamedTuple):
    """An index of `lots`."""

    name: str
    columns: tuple[str, ...]
    where: str = ""


INDEXES = (
    Listed("lots_by_opening", ("opened_at", "lot")),
    *(
        Listed(f"lots_of_{column}_by_{order}", (column, *by))
        for column in ("grade", "line", "state", "outcome", "disposition")
        for order, by in (("lot", ("lot",)), ("opening", ("opened_at", "lot")))
    ),
    # PostgreSQL takes no order from an index behind a column that IS NULL, but does from a partial one.
    *(
        Listed(f"lots_undisposed{of}_by_{order}", (*column, *by), NO_DISPOSITION)
        for of, column in (("", ()), ("_of_outcome", ("outcome",)))
        for order, by in (("lot", ("lot",)), ("opening", ("opened_at", "lot")))
    ),
)
TABLES = ("lot_openings", "lot_failures", "lot_claims", "instrument_terms")
SQLITE_TRIGGERS = {
    "lot_changes_list_opened": "lot_changes WHEN NEW.kind = 'opened' BEGIN "
    "INSERT INTO lot_openings (lot, resubmits) VALUES (NEW.lot, json_extract(NEW.document, '$.resubmits'))",
    "lot_changes_list_made": "lot_changes WHEN NEW.kind = 'made' BEGIN "
    "UPDATE lot_openings SET made = json_extract(NEW.document, '$.made') WHERE lot = NEW.lot",
    "lot_changes_list_claim": "lot_changes WHEN NEW.kind = 'claim' BEGIN "
    "INSERT INTO lot_claims (lot, claim, grade, at) SELECT NEW.lot, substr(NEW.key, 9), lots.grade, NEW.at "
    "FROM lots WHERE lots.lot = NEW.lot",
    "lot_changes_list_settlement": "lot_changes WHEN NEW.kind = 'settlement' BEGIN "
    "UPDATE lot_claims SET settled_at = NEW.at WHERE lot = NEW.lot AND NEW.key = '/claims/' || claim || '/settled'",
    "verdicts_list_failures": "verdicts BEGIN DELETE FROM lot_failures WHERE lot = NEW.lot; "
    "INSERT INTO lot_failures (lot, requirement) SELECT DISTINCT NEW.lot, json_extract(found.value, '$.requirement') "
    "FROM json_each(NEW.verdict, '$.findings') AS found "
    "WHERE json_extract(found.value, '$.outcome') = 'fail' AND json_extract(found.value, '$.binding')",
    "instruments_list_terms": "instruments BEGIN DELETE FROM instrument_terms WHERE instrument = NEW.instrument; "
    "INSERT INTO instrument_terms (instrument, calibrated_until) "
    "SELECT NEW.instrument, json_extract(NEW.document, '$.calibrated_until') "
    "WHERE json_extract(NEW.document, '$.calibrated_until') IS NOT NULL",
}
"""By name, the table, the condition and the statements of each trigger in SQLite."""
POSTGRESQL_FUNCTIONS = {
    "markeryarn_list_change": """
        IF NEW.kind = 'opened' THEN
            INSERT INTO lot_openings (lot, resubmits) VALUES (NEW.lot, CAST(NEW.document AS json) ->> 'resubmits');
        ELSIF NEW.kind = 'made' THEN
            UPDATE lot_openings SET made = CAST(NEW.document AS json) ->> 'made' WHERE lot = NEW.lot;
        ELSIF NEW.kind = 'claim' THEN
            INSERT INTO lot_claims (lot, claim, grade, at) SELECT NEW.lot, substr(NEW.key, 9), lots.grade, NEW.at
            FROM lots WHERE lots.lot = NEW.lot;
        ELSE
            UPDATE lot_claims SET settled_at = NEW.at
            WHERE lot = NEW.lot AND NEW.key = '/claims/' || claim || '/settled';
        END IF;""",
    "markeryarn_list_verdict": """
        DELETE FROM lot_failures WHERE lot = NEW.lot;
        INSERT INTO lot_failures (lot, requirement) SELECT DISTINCT NEW.lot, found.value ->> 'requirement'
        FROM json_array_elements(CAST(NEW.verdict AS json) -> 'findings') AS found
        WHERE found.value ->> 'outcome' = 'fail' AND found.value ->> 'binding' = 'true';""",
    "markeryarn_list_instrument": """
        DELETE FROM instrument_terms WHERE instrument = NEW.instrument;
        INSERT INTO instrument_terms (instrument, calibrated_until)
        SELECT NEW.instrument, CAST(NEW.document AS json) ->> 'calibrated_until'
        WHERE CAST(NEW.document AS json) ->> 'calibrated_until' IS NOT NULL;""",
}
"""By name, the body of each trigger's function in PostgreSQL."""
POSTGRESQL_TRIGGERS = {
    "markeryarn_list_change": "lot_changes FOR EACH ROW WHEN (NEW.kind IN ('opened', 'made', 'claim', 'settlement'))",
    "markeryarn_list_verdict": "verdicts FOR EACH ROW",
    "markeryarn_list_instrument": "instruments FOR EACH ROW",
}


def upgrade() -> None:
    """Make tables, rows for what is stored already, triggers and indexes. The promise stays: the release before fills them."""
    dialect = op.get_bind().dialect.name
    _make_tables(sa.Text(collation="C" if dialect == "postgresql" else None))
    for statement in _rows(dialect):
        op.execute(sa.text(statement))
    for name, columns, where in INDEXES:
        condition = sa.text(where) if where else None
        op.create_index(name, "lots", list(columns), sqlite_where=condition, postgresql_where=condition)
    for statement in _triggers(dialect):
        op.execute(sa.text(statement))


def downgrade() -> None:
    """Take away what is derived; nothing that was recorded changes."""
    if op.get_bind().dialect.name == "postgresql":
        for name in POSTGRESQL_FUNCTIONS:
            op.execute(f"DROP FUNCTION {name}() CASCADE")
    else:
        for name in SQLITE_TRIGGERS:
            op.execute(f"DROP TRIGGER {name}")
    for index in INDEXES:
        op.drop_index(index.name, "lots")
    for table in TABLES:
        op.drop_table(table)


def _make_tables(code: sa.Text) -> None:
    op.create_table(
        "lot_openings",
        sa.Column("lot", code, sa.ForeignKey("lots.lot"), primary_key=True),
        sa.Column("made", code),
        sa.Column("resubmits", code),
    )
    op.create_index("lots_by_made", "lot_openings", ["made", "lot"])
    op.create_table(
        "lot_failures",
        sa.Column("lot", code, sa.ForeignKey("lots.lot"), primary_key=True),
        sa.Column("requirement", code, primary_key=True),
    )
    op.create_index("lots_of_failure", "lot_failures", ["requirement", "lot"])
    op.create_table(
        "lot_claims",
        sa.Column("lot", code, sa.ForeignKey("lots.lot"), primary_key=True),
        sa.Column("claim", code, primary_key=True),
        sa.Column("grade", code, nullable=False),
        sa.Column("at", sa.BigInteger, nullable=False),
        sa.Column("settled_at", sa.BigInteger),
    )
    op.create_index("claims_by_time", "lot_claims", ["at", "lot", "claim"])
    op.create_index("claims_of_grade", "lot_claims", ["grade", "at", "lot", "claim"])
    unsettled = sa.text("settled_at IS NULL")
    for name, columns in {"open_claims": (), "open_claims_of_grade": ("grade",)}.items():
        by = [*columns, "at", "lot", "claim"]
        op.create_index(name, "lot_claims", by, sqlite_where=unsettled, postgresql_where=unsettled)
    op.create_table(
        "instrument_terms",
        sa.Column("instrument", code, primary_key=True),
        sa.Column("calibrated_until", code, nullable=False),
    )
    op.create_index("instruments_by_term", "instrument_terms", ["calibrated_until", "instrument"])


def _rows(dialect: str) -> list[str]:
    """Statements that derive the rows of what was recorded before."""
    is_sqlite = dialect == "sqlite"

    def member(document: str, name: str) -> str:
        return f"json_extract({document}, '$.{name}')" if is_sqlite else f"CAST({document} AS json) ->> '{name}'"

    findings = (
        "json_each(verdicts.verdict, '$.findings') AS found"
        if is_sqlite
        else "LATERAL json_array_elements(CAST(verdicts.verdict AS json) -> 'findings') AS found"
    )
    true = "1" if is_sqlite else "'true'"
    newest = "verdicts.number = (SELECT max(number) FROM verdicts AS other WHERE other.lot = verdicts.lot)"
    version = "number = (SELECT max(number) FROM instruments AS other WHERE other.instrument = instruments.instrument)"
    until, resubmits, made = (
        member("document", "calibrated_until"),
        member("document", "resubmits"),
        member("made.document", "made"),
    )
    requirement, outcome, binding = (member("found.value", name) for name in ("requirement", "outcome", "binding"))
    # A day is there where this version's tables were taken away for a while.
    day = f"SELECT {made} FROM lot_changes AS made WHERE made.lot = lot_changes.lot AND made.key = '/made'"  # noqa: S608  ours
    failed = f"{newest} AND {outcome} = 'fail' AND {binding} = {true}"
    settled = (
        "SELECT settled.at FROM lot_changes AS settled WHERE settled.lot = made.lot AND settled.key = made.key || '/settled'"
    )
    named = "made.lot, substr(made.key, 9), lots.grade, made.at"
    selected = {
        "lot_openings (lot, resubmits, made)": f"lot, {resubmits}, ({day}) FROM lot_changes WHERE kind = 'opened'",
        "lot_failures (lot, requirement)": f"DISTINCT verdicts.lot, {requirement} FROM verdicts, {findings} WHERE {failed}",
        "lot_claims (lot, claim, grade, at, settled_at)": f"{named}, ({settled}) "
        "FROM lot_changes AS made JOIN lots ON lots.lot = made.lot WHERE made.kind = 'claim'",
        "instrument_terms (instrument, calibrated_until)": f"instrument, {until} FROM instruments "
        f"WHERE {version} AND {until} IS NOT NULL",
    }
    return [f"INSERT INTO {into} SELECT {rows}" for into, rows in selected.items()]


def _triggers(dialect: str) -> list[str]:
    """What fills the tables from now on, in the transaction of what is recorded."""
    if dialect == "sqlite":
        return [f"CREATE TRIGGER {name} AFTER INSERT ON {rest}; END" for name, rest in SQLITE_TRIGGERS.items()]
    return [
        *(
            f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN {body} RETURN NULL; END $$"
            for name, body in POSTGRESQL_FUNCTIONS.items()
        ),
        *(
            f"CREATE TRIGGER {name} AFTER INSERT ON {rest} EXECUTE FUNCTION {name}()"
            for name, rest in POSTGRESQL_TRIGGERS.items()
        ),
    ]
