"""Who is in which group, by a store that holds a group until it is told to go on."""

import asyncio
from collections.abc import Sequence

from service.storage.lots.grouping import MOST_IN_GROUP, DeferredError, GroupCommit


class Disk:
    """Stores a group when it is told to, which takes some turns of the loop."""

    def __init__(self) -> None:
        """Nothing is stored yet."""
        self.groups: list[list[str]] = []
        self.has_begun = asyncio.Event()
        self.grouping = GroupCommit[str, str](self.store)

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


async def test_whoever_comes_while_a_group_is_stored_is_in_the_next() -> None:
    """However many stations there are, each waits for two commits at most."""
    disk = Disk()
    await asyncio.gather(disk.ask("a"), disk.ask("b"), after_a_turn(disk, "c"), after_a_turn(disk, "d"))

    assert [["a", "b"], ["c", "d"]] == disk.groups


async def test_a_group_waits_for_nobody() -> None:
    """Whoever thinks between two readings does not keep another station waiting."""
    disk = Disk()
    await asyncio.gather(disk.ask("a", "d", thinking_s=0.001), disk.ask("b", "e", thinking_s=0.004), after_a_turn(disk, "c"))

    assert [["a", "b"], ["c"], ["d", "e"]] == disk.groups


async def test_more_than_a_group_takes_are_stored_by_the_next() -> None:
    """However many wait, one commit has a bound."""
    disk = Disk()
    await asyncio.gather(*(disk.ask(f"a{number}") for number in range(MOST_IN_GROUP + 1)))

    assert [MOST_IN_GROUP, 1] == list(map(len, disk.groups))


async def test_one_who_is_put_off_is_first_in_the_next_group() -> None:
    """He comes before those who have come meanwhile, and once."""
    groups: list[list[str]] = []

    async def store(writes: Sequence[str]) -> list[str | Exception]:
        groups.append(list(writes))
        return [DeferredError() if each == "b" and len(groups) == 1 else each for each in writes]

    grouping = GroupCommit[str, str](store)
    answers = await asyncio.gather(*(grouping.write(name) for name in ("a", "b")))

    assert ["a", "b"] == answers
    assert [["a", "b"], ["b"]] == groups


async def test_one_who_hangs_up_is_stored_all_the_same() -> None:
    """He may have sent his reading, and will send it again; those beside him are answered."""
    disk = Disk()
    caller = asyncio.create_task(disk.ask("a"))
    other = asyncio.create_task(disk.ask("b"))
    await disk.has_begun.wait()
    caller.cancel()
    await asyncio.gather(other, disk.ask("c"))

    assert [["a", "b"], ["c"]] == disk.groups
    assert caller.cancelled()
