"""What is wrong with the settings is said at once, and no password with it."""

import pytest

from service.settings import Settings, SettingsError, settings_from


def texts(**environment: str) -> tuple[str, ...]:
    """What is said about these."""
    with pytest.raises(SettingsError) as raised:
        settings_from({f"MARKERYARN_{name}": text for name, text in environment.items()})
    return raised.value.texts


def test_nothing_need_be_set() -> None:
    """A new user starts it as it is; the tests' own settings and other programs' are none of ours."""
    assert Settings() == settings_from({"HOME": "/", "MARKERYARN_TEST_POSTGRESQL": "required"})


def test_everything_wrong_is_said_at_once() -> None:
    """Who starts it mends all of it before the next try."""
    said = texts(STALE_FOR="soon", POOL_SIZE="0", POOL_SIZ="5", DATABASE_URL="oracle://h/d")

    assert 4 == len(said)
    assert "MARKERYARN_POOL_SIZ" in said[0]
    assert "MARKERYARN_POOL_SIZE" in said[0].replace("`MARKERYARN_POOL_SIZ`", "")


def test_no_password_is_printed() -> None:
    """What is said at start is kept in logs."""
    assert "s3cret" not in "".join(texts(DATABASE_URL="oracle://u:s3cret@h/d") + texts(DATABASE_URL="u:s3cret@h"))


@pytest.mark.parametrize("number", ["nan", "inf", "-1", "0", "1e13"])
def test_a_time_is_a_number_above_0(number: str) -> None:
    """A wait without end, or none at all, is no setting."""
    assert 1 == len(texts(STALE_FOR=number))


def test_a_scheduler_has_an_address() -> None:
    """A host alone would be looked for only when somebody asks what a draft would change."""
    assert "tcp://10.0.0.7:8786" == settings_from({"MARKERYARN_DASK_SCHEDULER": "tcp://10.0.0.7:8786"}).dask_scheduler
    for address in ("10.0.0.7:8786", "http://10.0.0.7:8786", "tcp://10.0.0.7", "tcp://h:8786/x"):
        assert 1 == len(texts(DASK_SCHEDULER=address))
