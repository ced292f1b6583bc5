"""A lot's row is what its changes come to: by many stories, told by chance, beside a plain account of what was asked."""

import random

import msgspec
import pytest

from service.storage.catalogue import DatabaseCatalogue
from service.storage.database import Database
from service.storage.lots import DatabaseLedger, DatabaseLines
from service.storage.verifying import verify
from service.usecases.lines import LineHistories
from tests.support.ledgers import GRADE
from tests.support.sizes import of_two
from tests.support.stories import Story, released

STORIES = of_two(40, 400)


@pytest.mark.parametrize("seed", range(4))
async def test_the_row_of_a_lot_is_what_was_asked_of_it(catalogue: DatabaseCatalogue, store: Database, seed: int) -> None:
    """A list, a release and a switch go by the row, and an auditor by the changes: both say the same, whatever was done."""
    chance, grade_cache = random.Random(seed), await released(catalogue)
    ledgers = [DatabaseLedger(store), DatabaseLedger(store)]
    seen = set()
    for number in range(STORIES // 4):
        story = Story(chance, grade_cache, ledgers, LineHistories(DatabaseLines(store)), f"L{number}")
        await story.run()
        row, changes = await ledgers[0].row(story.lot), await ledgers[0].changes(story.lot, 0, 1000)
        verdicts = [msgspec.json.decode(each.document) for each in changes if each.kind == "verdict"]
        moments = [each.at for each in changes if each.kind == "verdict"]
        closed_since = None
        for verdict, at in zip(verdicts, moments, strict=True):
            closed_since = (closed_since or at) if verdict["state"] == "closed" else None
        account = story.account

        expected = (GRADE, account.revision, account.line, account.disposition, len(changes), changes[0].at, closed_since)
        assert expected == (
            row.grade,
            row.revision,
            row.line,
            row.disposition,
            row.changes,
            row.opened_at,
            row.closed_at,
        )
        assert account.told == msgspec.json.decode(row.told)
        judged = (verdicts[-1]["state"], verdicts[-1]["outcome"]) if verdicts else ("open", None)
        assert judged == (row.state, row.outcome)
        assert account.attributes == set(await ledgers[1].attributes(story.lot))
        seen.add((row.state, row.outcome, row.disposition))

    assert {"open", "waiting", "closed"} == {state for state, _, _ in seen}
    assert (await verify(store)).mismatch is None
