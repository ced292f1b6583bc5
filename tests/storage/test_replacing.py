"""SQLite's way of replacing a row by inserting another, which asks no trigger on DELETE."""

from pathlib import Path

import msgspec
import pytest
from sqlalchemy import text

from service.engine.grade import Specification
from service.ports.catalogue import CatalogueAwayError
from service.storage.catalogue import DatabaseCatalogue
from service.storage.database import database, migrate_database
from service.storage.instruments import DatabaseInstruments
from service.usecases.grades import catalogue as use

DOCUMENT = {
    "characteristics": [{"name": "breaking_force", "unit": "N"}],
    "requirements": [{"id": "strength", "kind": "mean", "of": "breaking_force", "limits": {"lower": 1400}}],
}
REPLACEMENTS = {
    "revisions": "INSERT OR REPLACE INTO revisions VALUES ('TB-130', 1, '{}', 'sha256:0', 0, NULL)",
    "releases": "INSERT OR REPLACE INTO releases VALUES ('TB-130', 1, 0, 0, 1, NULL)",
    "withdrawals": "INSERT OR REPLACE INTO withdrawals VALUES ('TB-130', 1, 0, 'none', 2, NULL)",
}


@pytest.mark.parametrize("statement", REPLACEMENTS.values(), ids=REPLACEMENTS.keys())
async def test_what_is_released_is_not_replaced_by_an_insert(tmp_path: Path, statement: str) -> None:
    """A released document stays as it was judged by, whoever opens the file."""
    url = f"sqlite:///{tmp_path}/grades.db"
    await migrate_database(url)
    kept = database(url)
    catalogue = DatabaseCatalogue(kept)
    await use.add_draft(catalogue, "TB-130", msgspec.convert(DOCUMENT, Specification))
    await catalogue.release("TB-130", 1, None, None)
    withdrawn = await catalogue.withdraw("TB-130", 1, "Superseded.")
    document = await catalogue.specification("TB-130", 1)

    with pytest.raises(CatalogueAwayError) as raised:
        async with kept.writing() as connection:
            await connection.execute(text(statement))

    assert "what is released never changes" in str(raised.value.__cause__)
    assert withdrawn == await catalogue.revision("TB-130", 1)
    assert document == await catalogue.specification("TB-130", 1)
    await kept.close()


async def test_a_version_of_an_instrument_is_not_replaced_by_an_insert(tmp_path: Path) -> None:
    """Nor is a date of calibration set back in this way."""
    url = f"sqlite:///{tmp_path}/grades.db"
    await migrate_database(url)
    kept = database(url)
    made, _ = await DatabaseInstruments(kept).put("TT-2", b'{"measures":["force"]}', "anna")

    with pytest.raises(CatalogueAwayError) as raised:
        async with kept.writing() as connection:
            await connection.execute(text("INSERT OR REPLACE INTO instruments VALUES ('TT-2', 1, 0, 'otto', '{}')"))

    assert "what is recorded never changes" in str(raised.value.__cause__)
    assert made == await DatabaseInstruments(kept).version("TT-2")
    await kept.close()
