"""Cache of compiled grades, and of which revision of each grade is in force.

A check needs two dictionary lookups and a clock, and no await. Entries of a grade are dropped when the catalogue's version
shows that it has changed. The version is read twice a second, together with the database's clock, which decides what is in
force.
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
from service.usecases.polling import ended_within
from service.usecases.threads import run_in_thread

MOST_REQUIREMENTS = 100_000
"""Maximum number of requirements of all cached grades; the least recently used grade is evicted first.

A grade of three simple requirements takes some 6 KiB, so a full cache takes about 200 MiB.
"""
MOST_GRADES = 100_000
"""Maximum number of grades whose revision in force is cached."""
MOST_NAMES_COMPARED = 1000


class CachedGrade(Struct, frozen=True):
    """A released revision, compiled and in memory."""

    compiled: CompiledGrade
    grade: str
    number: int


class InForce(Struct, frozen=True):
    """The revision in force, and the moment at which that changes by time alone; None if it does not."""

    held: CachedGrade
    until: Moment | None
    key: tuple[str, int]
    """Key of the revision among the cached ones."""


class CacheSizes(NamedTuple):
    """Size and age of the cache."""

    version: int
    """Version of the catalogue at the last refresh; -1 before the first one."""
    grades: int
    """Number of grades whose revision in force is cached."""
    revisions: int
    """Number of cached revisions."""
    requirements: int
    """Number of requirements of all cached revisions."""
    is_stale: bool
    """True while the catalogue is unavailable."""


class GradeCache:
    """The cache of one replica."""

    def __init__(
        self,
        catalogue: Catalogue,
        *,
        stale_for_s: float = 60,
        poll_every_s: float = 0.5,
        most_requirements: int = MOST_REQUIREMENTS,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        """Start empty; `refresh` has to be called before use.

        stale_for_s        seconds for which the cache decides what is in force while the catalogue is unavailable
        poll_every_s       seconds between two refreshes of `keep_fresh`
        most_requirements  maximum number of requirements of all cached grades
        clock              monotonic seconds, from any origin
        """
        self._catalogue, self._clock = catalogue, clock
        self._stale_for_s, self._poll_every_s, self._most_requirements = stale_for_s, poll_every_s, most_requirements
        self._in_force: OrderedDict[str, InForce] = OrderedDict()
        self._revisions: OrderedDict[tuple[str, int], CachedGrade] = OrderedDict()
        self._requirements = 0
        self._version = -1
        self._now: Moment | None = None
        self._not_before: Moment | None = None
        self._read_at = self._refreshed_at = 0.0
        self._is_unavailable = False

    # ------------------------------------------------------------------------------------------------- what judging asks

    def held(self, grade: str, revision: int | None = None) -> CachedGrade | None:
        """Return a cached revision, the one in force for None; None if it is not cached.

        Raises CatalogueAwayError if the catalogue was unavailable for too long to say what is in force.
        """
        if revision is not None:
            # A named revision never changes, so it can't be stale.
            return self._cached((grade, revision))
        found = self._in_force.get(grade)
        if found is None:
            return None
        if self._clock() - self._refreshed_at > self._stale_for_s:
            if self._is_unavailable:
                raise CatalogueAwayError(
                    "The database has not answered for too long to say which revision is in force. Try again in a moment."
                )
            return None
        if found.until is not None and self._database_now() >= found.until:
            return None
        self._revisions.move_to_end(found.key)
        return found.held

    @property
    def stale_for_s(self) -> float:
        """Seconds for which the cache is valid while the catalogue is unavailable."""
        return self._stale_for_s

    @property
    def is_stale(self) -> bool:
        """True while the catalogue is unavailable, so that answers come from memory."""
        return self._is_unavailable

    @property
    def sizes(self) -> CacheSizes:
        """Current size and age of the cache."""
        return CacheSizes(self._version, len(self._in_force), len(self._revisions), self._requirements, self._is_unavailable)

    async def fetch(self, grade: str, revision: int | None = None) -> CachedGrade:
        """Read a revision from the catalogue, the one in force for None. Raises FlawedDocumentError at /grade or /revision."""
        return await (self._fetch_in_force(grade) if revision is None else self._fetch_revision(grade, revision))

    # --------------------------------------------------------------------------------------------------- keeping up to date

    async def refresh(self) -> None:
        """Read the catalogue's version and clock, and drop grades that have changed. Raises CatalogueAwayError."""
        known, asked_at = self._version, self._clock()
        try:
            current_state = await self._catalogue.current_state()
            # Not `asked_at`: a reading that took long to arrive would put the estimate ahead by as much.
            self._set_clock(current_state.now, read_at=self._clock())
            await self._drop_changed(known, current_state.version)
        except CatalogueAwayError:
            self._is_unavailable = True
            raise
        self._refreshed_at, self._is_unavailable = max(self._refreshed_at, asked_at), False

    async def keep_fresh(self, ending: asyncio.Event, tell: Callable[[CatalogueAwayError | None], None]) -> None:
        """Refresh periodically until `ending` is set, also while the catalogue is unavailable.

        tell  called with the error when the catalogue becomes unavailable, and with None when it is back
        """
        was_away = self._is_unavailable
        while not await ended_within(ending, self._poll_every_s):
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
        """Drop grades that changed up to `version`; `known` is the cache's version when that was requested."""
        if version < known:
            # A version only grows in one database, so this is another one, restored from a copy: nothing cached is of it.
            self._in_force.clear()
            self._revisions.clear()
            self._requirements, self._version = 0, version
        elif version > self._version:
            changed = await self._catalogue.changed_since(self._version) if self._in_force else ()
            for grade in changed:
                self._in_force.pop(grade, None)
            # A concurrent refresh may have reached a newer version.
            self._version = max(self._version, version)

    def _set_clock(self, now: Moment, *, read_at: float) -> None:
        """Set the estimate of the database's clock by a reading of it; the estimate never goes back."""
        # If the reading is behind the estimate, the estimate stops until the clock has caught up: a revision that was replaced
        # a moment ago does not come back into force, and an estimate that was ahead is corrected.
        self._not_before = None if self._now is None else self._database_now()
        self._now, self._read_at = now, read_at

    def _database_now(self) -> Moment:
        """Return the estimate of the database's clock: the last reading plus the time since."""
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
        held = await self._compiled_revision(found)
        # A release may have been noticed since the revisions were read: then this answer is used once and not cached.
        if version == self._version:
            self._in_force[grade] = InForce(held, next_change(finals, now), (grade, held.number))
            if len(self._in_force) > MOST_GRADES:
                self._in_force.popitem(last=False)
        return held

    async def _none_in_force(self, grade: str, finals: object) -> Flaw:
        """Return the flaw of a grade without a revision in force."""
        if not finals and not await self._exists(grade):
            return await self._unknown_grade(grade)
        text = f"No revision of {grade} is in force now. Release one, or give the `revision` to judge by."
        return Flaw("none-in-force", text, "/grade")

    async def _exists(self, grade: str) -> bool:
        try:
            await self._catalogue.revisions(grade, 0, 1)
        except GradeUnknownError:
            return False
        return True

    async def _unknown_grade(self, grade: str) -> Flaw:
        """Return the flaw of an unknown grade, with similar codes among the first thousand."""
        known = [entry.grade for entry in await self._catalogue.grades("", MOST_NAMES_COMPARED)]
        remedy = did_you_mean(grade, known) or " `GET /v1/grades` lists them."
        return Flaw("unknown-grade", f"There is no grade {quoted(grade)}.{remedy}", "/grade")

    async def _fetch_revision(self, grade: str, revision: int) -> CachedGrade:
        try:
            found = await self._catalogue.revision(grade, revision)
        except GradeUnknownError as error:
            raise FlawedDocumentError([await self._unknown_grade(grade)]) from error
        except RevisionUnknownError as error:
            raise FlawedDocumentError([Flaw("unknown-revision", str(error), "/revision")]) from error
        if isinstance(found, Draft):
            text = f"Revision {revision} of {grade} is a draft. Release it first, or leave `revision` out for the one in force."
            raise FlawedDocumentError([Flaw("revision-not-released", text, "/revision")])
        return await self._compiled_revision(found)

    async def _compiled_revision(self, revision: Final) -> CachedGrade:
        """Return a compiled revision, from memory or from the catalogue."""
        key = (revision.grade, revision.number)
        if found := self._cached(key):
            return found
        document = await self._catalogue.specification(*key)
        compiled = await _compiled(document)
        if found := self._cached(key):
            # Fetched concurrently: stored twice, its requirements would be counted twice and subtracted once.
            return found
        held = self._revisions[key] = CachedGrade(compiled, *key)
        self._requirements += len(held.compiled.requirements)
        while self._requirements > self._most_requirements and len(self._revisions) > 1:
            self._evict(next(iter(self._revisions)))
        return held

    def _cached(self, key: tuple[str, int]) -> CachedGrade | None:
        """Return a cached revision and mark it as the most recently used; None if it is not cached."""
        found = self._revisions.get(key)
        if found is not None:
            self._revisions.move_to_end(key)
        return found

    def _evict(self, key: tuple[str, int]) -> None:
        """Evict a revision, and its entry as the one in force."""
        dropped = self._revisions.pop(key)
        self._requirements -= len(dropped.compiled.requirements)
        found = self._in_force.get(key[0])
        if found and found.held.number == key[1]:
            del self._in_force[key[0]]


async def _compiled(document: bytes) -> CompiledGrade:
    """Compile a stored specification."""
    specification = msgspec.json.decode(document, type=Specification)
    # Only a search for plans takes long enough for a thread. Without one nothing is awaited here, so that many requests for a
    # new revision wait for one compilation.
    return (
        await run_in_thread(compile_specification, specification)
        if SEARCHED in document
        else compile_specification(specification)
    )
