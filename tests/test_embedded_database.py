"""Which file an embedded database is in, and whose tables are made at start."""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from service.settings import SettingsError, settings_from
from tests.support.services import ask, service_in


@pytest.mark.parametrize("url", ["sqlite://", "sqlite:///", "sqlite:///:memory:"])
def test_a_database_without_a_file_is_refused(url: str) -> None:
    """Grades kept in memory would be gone with the connection, so that nobody finds what he has just released."""
    with pytest.raises(SettingsError) as raised:
        settings_from({"MARKERYARN_DATABASE_URL": url})

    text = "MARKERYARN_DATABASE_URL names no file. Write `sqlite:///FILE`, or remove it for markeryarn.db."
    assert (text,) == raised.value.texts


def test_a_folder_that_is_missing_is_told(tmp_path: Path) -> None:
    """A database that "can not be reached" would send people looking for a server."""
    with pytest.raises(SettingsError) as raised:
        settings_from({"MARKERYARN_DATABASE_URL": f"sqlite:///{tmp_path.name}/grades.db"})

    text = f"MARKERYARN_DATABASE_URL names a file in `{tmp_path.name}`, which is not a folder. Create it, or name another."
    assert (text,) == raised.value.texts


@pytest.mark.parametrize(
    ("url", "setting", "migrates"),
    [
        ("sqlite:///grades.db", "false", True),
        ("postgresql://mill@db.example/grades", "false", False),
        ("postgresql://mill@db.example/grades", "true", True),
    ],
)
def test_a_shared_database_is_migrated_at_start_only_when_told(url: str, setting: str, migrates: bool) -> None:  # noqa: FBT001  a case
    """Whoever runs several replicas decides when the tables change; whoever runs one on a file need not know of tables."""
    settings = settings_from({"MARKERYARN_DATABASE_URL": url, "MARKERYARN_MIGRATE_AT_START": setting})

    assert migrates is settings.migrates


def test_a_setting_that_is_neither_true_nor_false_is_told() -> None:
    """`yes` could be meant either way by the next person who reads it, so there is one way to write it."""
    with pytest.raises(SettingsError) as raised:
        settings_from({"MARKERYARN_MIGRATE_AT_START": "yes"})

    assert ("MARKERYARN_MIGRATE_AT_START is `yes`. Write `true` or `false`, or remove it.",) == raised.value.texts


def test_a_replica_stays_ready_on_newer_tables_that_promise_to_suit_it(tmp_path: Path) -> None:
    """While a newer release is brought out, the older replicas go on; tables that no longer suit them are told of."""

    def told(address: str, statement: str) -> tuple[int, str]:
        with closing(sqlite3.connect(tmp_path / "grades.db")) as console:
            console.execute(statement)
            console.commit()
        answered = ask(address, "GET", "/health/ready")
        return answered.status, " ".join(answered.document["reasons"])

    with service_in(tmp_path) as address:
        assert (200, "") == told(address, "UPDATE alembic_version SET version_num = '9999'")
        status, reason = told(address, "UPDATE schema_promise SET oldest = '9999'")
        assert 503 == status
        assert reason.startswith("The database has tables of version 9999; this release knows")
        assert reason.endswith("Run a newer release.")
