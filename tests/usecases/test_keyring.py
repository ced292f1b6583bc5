"""The keys that a replica holds in memory."""

from datetime import timedelta

from service.ports.catalogue import Scope
from service.storage.database import Database
from service.storage.keys import DatabaseKeys
from service.usecases.keys import Keyring
from service.usecases.keys.issuing import add_key
from tests.support.grade_caches import Ticks


async def test_a_key_is_good_until_it_expires_and_no_longer(store: Database) -> None:
    """Nobody looks at the database again when the day has come."""
    keys, ticks = DatabaseKeys(store), Ticks()
    keyring = Keyring(keys, stale_for_s=3600, clock=ticks)
    now = (await keys.current_state()).now
    added = await add_key(keys, "station-7", frozenset({Scope.CHECK}), now + timedelta(seconds=600))
    await keyring.refresh()
    known = keyring.principal(added.token.encode())
    # A minute before and after, as the database's clock went on while the key was made.
    ticks.seconds = 540
    before = keyring.principal(added.token.encode())
    ticks.seconds = 660

    assert ["station-7"] * 2 == [each and each.name for each in (known, before)]
    assert keyring.principal(added.token.encode()) is None
