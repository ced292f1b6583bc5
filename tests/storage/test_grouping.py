"""Who is in which group, by a store that holds a group until it is told to go on."""

import asyncio
from collections.abc import Sequence

import pytest

from service.storage import grouping
from service.storage.grouping import MOST_IN_GROUP, Grouping

FOR_EVER = 1e9


class Disk:
    """Stores a group when it is told to, which takes some turns of the loop."""

    def __init__(self) -> None:
        """Nothing is stored yet."""
        self.groups: list[list[str]] = []
        self.has_begun = asyncio.Event()
        self.grouping = Grouping[str, str](self.store)

    async def store(self, writes: Sequence[str]) -> list[str]:
        """Each is answered by itself."""
        self.groups.append(list(writes))
        self.has_begun.set()
        await asyncio.sleep(0.01)
        return list(writes)

    async def ask(self, *names: str, thinking_s: float = 0) -> None:
        """One caller, who thinks between two writes."""
        for name in names:
            assert name == await self.grouping.write(name)
            if thinking_s:
                await asyncio.sleep(thinking_s)


async def after_a_turn(disk: Disk, name: str) -> None:
    """A caller who comes while the first group is stored."""
    await disk.has_begun.wait()
    await disk.ask(name)


async def test_who_asks_again_at_once_is_in_the_next_group(monkeypatch: pytest.MonkeyPatch) -> None:
    """Callers in this process, who have nothing to think about."""
    monkeypatch.setattr(grouping, "WAITED_FOR", 0)
    disk = Disk()
    await asyncio.gather(disk.ask("a", "c"), disk.ask("b", "d"), after_a_turn(disk, "e"))

    assert [["a", "b"], ["e", "c", "d"]] == disk.groups


@pytest.mark.parametrize(
    ("share", "groups"),
    [(FOR_EVER, [["a", "b"], ["c", "d", "e"]]), (0, [["a", "b"], ["c"], ["d", "e"]])],
    ids=["waiting", "not waiting"],
)
async def test_a_group_waits_for_those_who_were_answered(
    monkeypatch: pytest.MonkeyPatch, share: float, groups: list[list[str]]
) -> None:
    """Three stations at a slow disk: one commit for all of them, instead of two in turn."""
    monkeypatch.setattr(grouping, "WAITED_FOR", share)
    monkeypatch.setattr(grouping, "MOST_WAITED_S", FOR_EVER)
    disk = Disk()
    await asyncio.gather(disk.ask("a", "d", thinking_s=0.001), disk.ask("b", "e", thinking_s=0.004), after_a_turn(disk, "c"))

    assert groups == disk.groups


async def test_who_does_not_come_back_is_not_waited_for_long(monkeypatch: pytest.MonkeyPatch) -> None:
    """A share of what a commit takes, and then whoever is there is stored."""
    disk = Disk()
    await asyncio.gather(disk.ask("a"), after_a_turn(disk, "b"))

    assert [["a"], ["b"]] == disk.groups


async def test_after_a_commit_that_took_very_long_nobody_is_kept_much_longer(monkeypatch: pytest.MonkeyPatch) -> None:
    """It may have waited for a database that did not answer."""
    monkeypatch.setattr(grouping, "WAITED_FOR", FOR_EVER)
    disk = Disk()
    await asyncio.gather(disk.ask("a"), after_a_turn(disk, "b"))

    assert [["a"], ["b"]] == disk.groups


async def test_who_is_alone_waits_for_nobody(monkeypatch: pytest.MonkeyPatch) -> None:
    """One station is answered as its reading is stored, and its next one is stored as it comes."""
    monkeypatch.setattr(grouping, "WAITED_FOR", FOR_EVER)
    monkeypatch.setattr(grouping, "MOST_WAITED_S", FOR_EVER)
    disk = Disk()
    await disk.ask("a", "b", thinking_s=0.001)
    await disk.grouping.close()

    assert [["a"], ["b"]] == disk.groups


async def test_no_more_are_waited_for_than_a_group_takes(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of more callers than that a full group goes on at once, though others are still to come back."""
    monkeypatch.setattr(grouping, "WAITED_FOR", FOR_EVER)
    monkeypatch.setattr(grouping, "MOST_WAITED_S", FOR_EVER)
    disk = Disk()
    early = [disk.ask(f"a{number}") for number in range(MOST_IN_GROUP)]
    await asyncio.gather(*early, *(after_a_turn(disk, f"b{number}") for number in range(MOST_IN_GROUP)))

    assert [MOST_IN_GROUP, MOST_IN_GROUP] == list(map(len, disk.groups))
