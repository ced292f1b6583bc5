"""The composition root: the application and everything it uses, created from the settings."""

import asyncio
import logging
import os
from collections.abc import AsyncIterator, Mapping
from contextlib import asynccontextmanager
from functools import partial
from typing import Any, NamedTuple

from litestar import Litestar
from litestar.di import Provide

from service.api.access.admission import Admission
from service.api.access.gate import Gate
from service.api.access.hosts import AllowedHosts
from service.api.access.rates import RateLimiter
from service.api.application import Application, RequestPolicy
from service.api.bodies.documents import FindFlaws, StrictDocuments
from service.api.bodies.receiving import Bodies, StrictRequest
from service.api.controllers import CONTROLLERS
from service.api.document.document import DocumentsByMsgspec, config
from service.api.grades.controller import Grades
from service.api.instruments.controller import InstrumentRegister
from service.api.journal.controller import Entries
from service.api.judging.controller import Judging
from service.api.judging.reviews import compiled
from service.api.keys.controller import KeyRegister
from service.api.lines.controller import Lines
from service.api.lots.shown import Lots
from service.api.pages.controller import Watched
from service.api.planning.controller import planned
from service.api.problems import problem_details
from service.api.receiving import Receiving
from service.api.trends.controller import Trends
from service.api.watching.metrics import Gauges, Metrics, metrics_of
from service.engine.numbers import read_factors
from service.ports.catalogue import Catalogue, CatalogueAwayError
from service.settings import Settings, settings_from
from service.storage.catalogue import DatabaseCatalogue
from service.storage.database import (
    NO_TABLES,
    SCHEMA,
    Database,
    database,
    exclusive_lock,
    make_file,
    migrate_database,
    need_migration,
)
from service.storage.instruments import DatabaseInstruments
from service.storage.journal import DatabaseJournal
from service.storage.keys import DatabaseKeys
from service.storage.lots import DatabaseClosedLots, DatabaseLedger, DatabaseLines
from service.usecases.grades import GradeCache
from service.usecases.judging import for_lot, graded, of_lot
from service.usecases.keys import Keyring
from service.usecases.lines import LineHistories
from service.usecases.threads import run_in_thread
from service.workers.cluster import Cluster
from service.workers.processes import Processes

LOGGER = logging.getLogger("markeryarn")
SHARED = (
    "Another service uses the same database file. Each sees what the other has recorded up to half a second later. For several "
    "replicas, use PostgreSQL."
)
RETAINED = 4 * 1024 * 1024
"""Size in bytes of the block whose release makes the C library retain freed memory."""


def retain_memory() -> None:
    """Make the C library retain freed memory, at most twice RETAINED, for the next long lot.

    glibc's malloc (M_MMAP_THRESHOLD, M_TRIM_THRESHOLD) returns large blocks to the system at once, which has to clear each page
    when it is requested again: a quarter of the time of a lot of 100,000 readings. When a large block is freed, it raises
    these thresholds to the block's size and twice that. Other libraries are not affected.
    """
    # Zeroed by calloc and never written to, so that it takes no memory itself.
    bytes(RETAINED)


class Parts(NamedTuple):
    """Objects with the lifetime of the process: storage behind its ports, and caches."""

    settings: Settings
    database: Database
    catalogue: Catalogue
    ledger: DatabaseLedger
    grade_cache: GradeCache
    keys: DatabaseKeys
    keyring: Keyring
    lines: LineHistories
    metrics: Metrics


def create_app(settings: Settings | None = None) -> Application:
    """Create the application; nothing is read or connected before its lifespan starts.

    settings  None for those of the environment, as for `uvicorn --factory service.app:create_app`

    Raises SettingsError.
    """
    parts = _parts(settings_from(os.environ) if settings is None else settings)
    edge = _edge(parts)
    return Application(
        edge,
        route_handlers=CONTROLLERS,
        dependencies=_dependencies(parts, edge),
        guards=[Admission(parts.keyring, edge.rates)],
        before_request=Receiving(parts.catalogue, parts.ledger, edge, _flaw_finders(parts), parts.settings.most_readings),
        lifespan=[partial(_lifespan, parts)],
        openapi_config=config(),
        plugins=[problem_details(), StrictDocuments(), DocumentsByMsgspec()],
        request_class=StrictRequest,
        # Answers are Structs, which msgspec encodes directly; a DTO would copy each of them first.
        return_dto=None,
        logging_config=None,
    )


def _parts(settings: Settings) -> Parts:
    store = database(settings.database_url, timeout_s=settings.statement_timeout, pool_size=settings.pool_size)
    catalogue, keys = DatabaseCatalogue(store), DatabaseKeys(store)
    stale_for, poll_every = settings.stale_for, settings.poll_every
    grade_cache = GradeCache(catalogue, stale_for_s=stale_for, poll_every_s=poll_every)
    keyring = Keyring(keys, stale_for_s=stale_for, poll_every_s=poll_every, is_for_others=settings.is_for_others)
    metrics = metrics_of(lambda: Gauges(grade_cache.sizes, store.connections))
    lines = LineHistories(DatabaseLines(store))
    return Parts(settings, store, catalogue, DatabaseLedger(store), grade_cache, keys, keyring, lines, metrics)


def _edge(parts: Parts) -> RequestPolicy:
    """The policy that every request passes."""
    settings, gate = parts.settings, Gate(parts.settings.most_in_flight)
    return RequestPolicy(
        hosts=AllowedHosts(settings.host_names),
        gate=gate,
        bodies=Bodies(settings.max_body, settings.body_timeout, gate),
        rates=RateLimiter(settings.rate_per_key) if settings.rate_per_key else None,
        keyring=parts.keyring,
        watch=parts.metrics.watch,
        seconds=settings.body_timeout,
        leaving_seconds=settings.leaving_for,
        is_encrypted=bool(settings.tls_certificate),
    )


def _dependencies(parts: Parts, edge: RequestPolicy) -> Mapping[str, Provide]:
    """The dependencies that handlers request by name."""
    settings, store, catalogue, grade_cache, ledger = (
        parts.settings,
        parts.database,
        parts.catalogue,
        parts.grade_cache,
        parts.ledger,
    )
    judged, most, one_may = parts.metrics.judged, settings.most_readings, settings.one_person_may_release
    workers = Cluster(settings.dask_scheduler) if settings.dask_scheduler else Processes()
    history = DatabaseClosedLots(store)
    # One for each handler: Litestar resolves several dependencies by tasks (195 µs in place of 33, measured).
    given = {
        "judging": Judging(catalogue, grade_cache, ledger, judged, most),
        "grades": Grades(catalogue, grade_cache, history, workers, lambda: edge.is_stopping, one_may),
        "lots": Lots(ledger, grade_cache, parts.lines, judged, most, one_may, settings.zone),
        "lines": Lines(catalogue, grade_cache, parts.lines),
        "trends": Trends(catalogue, grade_cache, history),
        "instruments": InstrumentRegister(DatabaseInstruments(store), settings.zone),
        "register": KeyRegister(parts.keys, parts.keyring),
        "entries": Entries(DatabaseJournal(store)),
        "watched": Watched(parts.metrics.registry, partial(_reasons, catalogue, edge)),
    }
    return {name: _provided(each) for name, each in given.items()}


def _provided(given: object) -> Provide:
    """A dependency that always provides the given object."""

    # Without parameters: Litestar would read them from the request.
    def provide() -> Any:  # each handler says which type it asks for
        return given

    return Provide(provide, use_cache=True, sync_to_thread=False)


def _flaw_finders(parts: Parts) -> Mapping[str, FindFlaws]:
    """By operation id, the function that finds flaws of meaning in a document, besides those of its shape."""
    return {
        "judgeLot": partial(of_lot, parts.grade_cache),
        "drawLot": partial(for_lot, parts.grade_cache),
        "gradeLot": partial(graded, parts.catalogue, parts.grade_cache),
        "showSamplingPlan": planned,
        "addDraft": compiled,
        "replaceSpecification": compiled,
    }


@asynccontextmanager
async def _lifespan(parts: Parts, _application: Litestar) -> AsyncIterator[None]:
    """The lifespan of the application, from before the first request until after the last."""
    settings = parts.settings
    retain_memory()
    make_file(settings.database_url)
    # A second service on one file works, but sees what the first has recorded only at its next poll.
    with exclusive_lock(settings.database_url) as is_alone:
        if not is_alone:
            LOGGER.warning(SHARED)
        async with _with_fresh_caches(parts):
            yield


@asynccontextmanager
async def _with_fresh_caches(parts: Parts) -> AsyncIterator[None]:
    """Migrate if configured, then keep the caches fresh until the end."""
    settings = parts.settings
    if settings.one_person_may_release:
        LOGGER.warning(
            "MARKERYARN_ONE_PERSON_MAY_RELEASE is set: whoever wrote a grade may release it without a second person, and "
            "whoever granted a concession may dispose of the lot by it"
        )
    if settings.migrates and need_migration(await parts.catalogue.tables_version()):
        await migrate_database(settings.database_url)
    # Not fatal: a service that starts while the database is unavailable answers as soon as it is back.
    try:
        await parts.keyring.refresh()
        await parts.grade_cache.refresh()
    except CatalogueAwayError as error:
        _log_database_state(error)
    ending = asyncio.Event()
    # In a thread: neither the start nor the first check should wait for pint, whose import takes as long as all the rest.
    units = run_in_thread(read_factors)
    polling = asyncio.gather(parts.grade_cache.keep_fresh(ending, _log_database_state), parts.keyring.keep_fresh(ending), units)
    try:
        yield
    finally:
        ending.set()
        await polling
        # The ledger first: it waits for queued writes, which need the database.
        await parts.ledger.close()
        await parts.database.close()


def _log_database_state(error: CatalogueAwayError | None) -> None:
    """Log that the database is unavailable, or back."""
    if error is None:
        LOGGER.warning("The database answers again.")
    else:
        LOGGER.warning("The database does not answer: %s", error.why)


async def _reasons(catalogue: Catalogue, edge: RequestPolicy) -> list[str]:
    """Reasons why requests can't be answered now; empty if they can."""
    return [*(["The service is stopping."] if edge.is_stopping else []), *await _reasons_of(catalogue)]


async def _reasons_of(catalogue: Catalogue) -> list[str]:
    """Reasons why the catalogue can't be read; empty if it can."""
    try:
        found = await catalogue.tables_version()
    except CatalogueAwayError as error:
        return [error.why]
    if found is None:
        return [NO_TABLES]
    if found.version < SCHEMA:
        return [
            f"The database has tables of version {found.version}, and this release needs {SCHEMA}. Run `markeryarn migrate`."
        ]
    # Newer tables are fine as long as their promise covers this release: then a rolling upgrade can go on.
    if found.oldest > SCHEMA:
        return [f"The database has tables of version {found.version}; this release knows {SCHEMA}. Run a newer release."]
    return []
