"""Which file an embedded database is in."""

import pytest

from service.settings import SettingsError, settings_from


@pytest.mark.parametrize("url", ["sqlite://", "sqlite:///", "sqlite:///:memory:"])
def test_a_database_without_a_file_is_refused(url: str) -> None:
    """Grades kept in memory would be gone with the connection, so that nobody finds what he has just released."""
    with pytest.raises(SettingsError) as raised:
        settings_from({"MARKERYARN_DATABASE_URL": url})

    text = "MARKERYARN_DATABASE_URL names no file. Write `sqlite:///FILE`, or leave it out for markeryarn.db."
    assert (text,) == raised.value.texts
