"""What a replica holds in memory to judge by: which revision of a grade is in force, and compiled grades.

A check looks into two dictionaries and at a clock, and waits for nothing. What is held is dropped when the catalogue's version
says that the grade has changed; the version is read twice a second, together with the database's clock, by which all that is
in force goes.
"""

import asyncio
import time
from collections import OrderedDict
from collections.abc import Callable
from datetime import timedelta
from typing import NamedTuple

import msgspec
from msgspec import Struct

from service.engine.documents import Flaw, FlawedDocumentError, did_you_mean, quoted
from service.engine.grade import SEARCHED, CompiledGrade, Specification, compile_specification
from service.ports.catalogue import Catalogue, CatalogueAwayError, Draft, Final, GradeUnknownError, Moment, RevisionUnknownError
from service.usecases.grades.in_force import in_force, next_change
from service.usecases.polling import is_over
from service.usecases.threads import run_in_thread

MOST_REQUIREMENTS = 100_000
"""So many requirements the compiled grades in memory may have together; the one that was not used for longest goes first.

A grade of three simple ones takes some 6 KiB, so that the grade cache takes about 200 MiB where this is reached.
"""
MOST_GRADES = 100_000
"""Of so many grades it is held which revision is in force."""
MOST_NAMES_COMPARED = 1000


class CachedGrade(Struct, frozen=True):
    """A released revision in memory, ready to judge by."""

    compiled: CompiledGrade
    grade: str
    number: int


class InForce(Struct, frozen=True):
    """The revision in force, and the moment at which another one comes into force, None where none is to come."""

    held: CachedGrade
    until: Moment | None
    key: tuple[str, int]
    """Of the revision among those in memory."""


class CacheSizes(NamedTuple):
    """How much a replica holds, and how fresh it is."""

    version: int
    """Of the catalogue, as it was last read; -1 where it never was."""
    grades: int
    """Of which it is held what is in force."""
    revisions: int
    """Compiled, in memory."""
    requirements: int
    """Of these together."""
    is_stale: bool
    """True while the catalogue is away."""


class GradeCache:
    """The revisions in memory of one replica."""

    def __init__(
        self,
        catalogue: Catalogue,
        *,
        stale_for_s: float = 60,
        poll_every_s: float = 0.5,
        most_requirements: int = MOST_REQUIREMENTS,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        """Empty; `refresh` makes it ready.

        stale_for_s  how long revisions in force are answered from memory while the catalogue is away
        clock        seconds that only grow, from any origin
        """
        self._catalogue, self._clock = catalogue, clock
        self._stale_for_s, self._poll_every_s, self._most_requirements = stale_for_s, poll_every_s, most_requirements
        self._in_force: OrderedDict[str, InForce] = OrderedDict()
        self._pinned: OrderedDict[tuple[str, int], CachedGrade] = OrderedDict()
        self._requirements = 0
        self._version = -1
        self._now: Moment | None = None
        self._not_before: Moment | None = None
        self._read_at = self._good_at = 0.0
        self._is_away = False

    # ------------------------------------------------------------------------------------------------- what judging asks

    def held(self, grade: str, revision: int | None = None) -> CachedGrade | None:
        """The revision named, or the one in force now; None where it is not in memory.

        Raises CatalogueAwayError where what is in force has not been known for too long; a named one never grows old.
        """
        if revision is not None:
            return self._used((grade, revision))
        found = self._in_force.get(grade)
        if found is None:
            return None
        if self._clock() - self._good_at > self._stale_for_s:
            if self._is_away:
                raise CatalogueAwayError(
                    "The database has been away for too long to say what is in force. Ask again in a moment."
                )
            return None
        if found.until is not None and self._database_now() >= found.until:
            return None
        self._pinned.move_to_end(found.key)
        return found.held

    @property
    def stale_for_s(self) -> float:
        """How long what is in memory counts while the catalogue is away."""
        return self._stale_for_s

    @property
    def is_stale(self) -> bool:
        """True while the catalogue is away, and what is in force is answered from memory."""
        return self._is_away

    @property
    def sizes(self) -> CacheSizes:
        """How much is held now."""
        return CacheSizes(self._version, len(self._in_force), len(self._pinned), self._requirements, self._is_away)

    async def fetch(self, grade: str, revision: int | None = None) -> CachedGrade:
        """The same, from the catalogue. Raises FlawedDocumentError at /grade or /revision where there is none to judge by."""
        return await (self._fetch_in_force(grade) if revision is None else self._fetch_pinned(grade, revision))

    # --------------------------------------------------------------------------------------------------- keeping up to date

    async def refresh(self) -> None:
        """Read the catalogue's version and clock, and drop what has changed. Raises CatalogueAwayError."""
        known, asked_at = self._version, self._clock()
        try:
            current_state = await self._catalogue.current_state()
            # Not `asked_at`: a clock that was long on its way would then be taken for one that is ahead by as much.
            self._take_over(current_state.now, read_at=self._clock())
            await self._drop_changed(known, current_state.version)
        except CatalogueAwayError:
            self._is_away = True
            raise
        self._good_at, self._is_away = max(self._good_at, asked_at), False

    async def keep_fresh(self, ending: asyncio.Event, tell: Callable[[CatalogueAwayError | None], None]) -> None:
        """Refresh until it is time to end; while the catalogue is away, try again each time.

        tell  is told when the catalogue goes away, by what, and with None when it is back
        """
        was_away = self._is_away
        while not await is_over(ending, self._poll_every_s):
            error = await self._refreshed()
            if (error is not None) != was_away:
                was_away = not was_away
                tell(error)

    async def _refreshed(self) -> CatalogueAwayError | None:
        try:
            await self.refresh()
        except CatalogueAwayError as error:
            return error
        return None

    async def _drop_changed(self, known: int, version: int) -> None:
        """Drop what has changed since `known`, our version when the catalogue was asked for its own."""
        if version < known:
            # Another database, put back from a copy: nothing that was read from the one before counts.
            self._in_force.clear()
            self._pinned.clear()
            self._requirements, self._version = 0, version
        elif version > self._version:
            changed = await self._catalogue.changed_since(self._version) if self._in_force else ()
            for grade in changed:
                self._in_force.pop(grade, None)
            # Another refresh may have got further meanwhile.
            self._version = max(self._version, version)

    def _take_over(self, now: Moment, *, read_at: float) -> None:
        """Go by this reading of the database's clock.

        Where it is behind our estimate, that one stands still until it is caught up with: what was in force a moment ago
        does not come back, and an estimate that was ahead does not stay so.
        """
        self._not_before = None if self._now is None else self._database_now()
        self._now, self._read_at = now, read_at

    def _database_now(self) -> Moment:
        """The database's clock by now: as it was read, and the time since."""
        assert self._now is not None
        estimate = self._now + timedelta(seconds=self._clock() - self._read_at)
        return estimate if self._not_before is None else max(estimate, self._not_before)

    # ------------------------------------------------------------------------------------------------------------- filling

    async def _fetch_in_force(self, grade: str) -> CachedGrade:
        await self.refresh()
        version = self._version
        finals = await self._catalogue.final_revisions(grade)
        now = self._database_now()
        found = in_force(finals, now)
        if found is None:
            raise FlawedDocumentError([await self._none_in_force(grade, finals)])
        held = await self._hold(found)
        if version == self._version:
            self._in_force[grade] = InForce(held, next_change(finals, now), (grade, held.number))
            if len(self._in_force) > MOST_GRADES:
                self._in_force.popitem(last=False)
        return held

    async def _none_in_force(self, grade: str, finals: object) -> Flaw:
        """Why no revision of the grade can judge now."""
        if not finals and not await self._exists(grade):
            return await self._unknown_grade(grade)
        text = f"No revision of {grade} is in force now. Release one, or name the revision to judge by."
        return Flaw("none-in-force", text, "/grade")

    async def _exists(self, grade: str) -> bool:
        try:
            await self._catalogue.revisions(grade, 0, 1)
        except GradeUnknownError:
            return False
        return True

    async def _unknown_grade(self, grade: str) -> Flaw:
        """With the near codes, among the first thousand."""
        known = [entry.grade for entry in await self._catalogue.grades("", MOST_NAMES_COMPARED)]
        remedy = did_you_mean(grade, known) or " `GET /v1/grades` lists them."
        return Flaw("unknown-grade", f"There is no grade {quoted(grade)}.{remedy}", "/grade")

    async def _fetch_pinned(self, grade: str, revision: int) -> CachedGrade:
        try:
            found = await self._catalogue.revision(grade, revision)
        except GradeUnknownError as error:
            raise FlawedDocumentError([await self._unknown_grade(grade)]) from error
        except RevisionUnknownError as error:
            raise FlawedDocumentError([Flaw("unknown-revision", str(error), "/revision")]) from error
        if isinstance(found, Draft):
            text = f"Revision {revision} of {grade} is a draft. Release it first, or leave `revision` out for the one in force."
            raise FlawedDocumentError([Flaw("revision-not-released", text, "/revision")])
        return await self._hold(found)

    async def _hold(self, revision: Final) -> CachedGrade:
        """The revision compiled, from memory where it is there."""
        key = (revision.grade, revision.number)
        if found := self._used(key):
            return found
        document = await self._catalogue.specification(*key)
        compiled = await _compiled(document)
        if found := self._used(key):
            # Somebody else has fetched it meanwhile; held twice it would be counted twice, and given back once.
            return found
        held = self._pinned[key] = CachedGrade(compiled, *key)
        self._requirements += len(held.compiled.requirements)
        while self._requirements > self._most_requirements and len(self._pinned) > 1:
            self._drop(next(iter(self._pinned)))
        return held

    def _used(self, key: tuple[str, int]) -> CachedGrade | None:
        """The revision, if it is in memory, where it is now the last to go."""
        found = self._pinned.get(key)
        if found is not None:
            self._pinned.move_to_end(key)
        return found

    def _drop(self, key: tuple[str, int]) -> None:
        """Forget a revision, and that it is in force."""
        dropped = self._pinned.pop(key)
        self._requirements -= len(dropped.compiled.requirements)
        found = self._in_force.get(key[0])
        if found and found.held.number == key[1]:
            del self._in_force[key[0]]


async def _compiled(document: bytes) -> CompiledGrade:
    """The specification compiled: at once where that takes a moment, so that many who ask for it wait for one."""
    specification = msgspec.json.decode(document, type=Specification)
    return (
        await run_in_thread(compile_specification, specification)
        if SEARCHED in document
        else compile_specification(specification)
    )
