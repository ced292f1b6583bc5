"""The whole service, put together once from its settings."""

import asyncio
import logging
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress
from functools import cache

from service.api.figures import Figures, Stock
from service.api.frame import Bounds, Frame
from service.api.judged import Judged
from service.api.openapi import written
from service.api.routes import routes
from service.api.routing import Router
from service.api.service import Service
from service.api.watching import Watch
from service.ports import Catalogue, CatalogueAwayError
from service.settings import Settings
from service.storage.catalogue import DatabaseCatalogue
from service.storage.connecting import database
from service.storage.history import DatabaseHistory
from service.storage.instruments import DatabaseInstruments
from service.storage.journal import DatabaseJournal
from service.storage.keys import DatabaseKeys
from service.storage.ledger import DatabaseLedger
from service.storage.lines import DatabaseLines
from service.storage.migrating import are_behind, migrate_database
from service.storage.tables import SCHEMA
from service.usecases.keyring import Keyring
from service.usecases.ledger.lines import LineHistories
from service.usecases.shelf import Shelf
from service.workers import Cluster, Processes

LOGGER = logging.getLogger("markeryarn")
RETAINED = 4 * 1024 * 1024
"""Bytes: of the largest block of memory that is kept for the next lot."""


def retain_memory() -> None:
    """Keep the memory that a long lot gives back, of at most twice the largest block, for the next one.

    The C library (glibc's malloc: M_MMAP_THRESHOLD, M_TRIM_THRESHOLD) hands large blocks back to the system at once, which must
    clear each page when it is asked again: a fourth of the time of a lot of 100,000 readings. By the first block of a size that
    is freed it learns to keep such ones. This one is never written to, so takes no memory itself; other libraries don't mind.
    """
    bytes(RETAINED)


@cache
def document() -> bytes:
    """The OpenAPI document, made when it is first asked for."""
    return written(routes()).encode()


def create_app(settings: Settings) -> Frame:
    """The application; nothing is read and nothing is connected before its life span begins."""
    kept = database(settings.database_url, timeout_s=settings.statement_timeout, pool_size=settings.pool_size)
    catalogue, ledger = DatabaseCatalogue(kept), DatabaseLedger(kept)
    shelf = Shelf(catalogue, stale_for_s=settings.stale_for, poll_every_s=settings.poll_every)
    keys = DatabaseKeys(kept)
    keyring = Keyring(
        keys, stale_for_s=settings.stale_for, poll_every_s=settings.poll_every, is_for_others=settings.is_for_others
    )

    @asynccontextmanager
    async def living() -> AsyncIterator[None]:
        retain_memory()
        if settings.one_person_may_release:
            LOGGER.warning(
                "MARKERYARN_ONE_PERSON_MAY_RELEASE is set: who wrote a grade may release it without a second person, and who "
                "granted a concession may dispose by it"
            )
        if settings.migrates and are_behind(await catalogue.tables()):
            await migrate_database(settings.database_url)
        # A service that starts while the database is away answers as soon as it is back.
        with suppress(CatalogueAwayError):
            await keyring.refresh()
            await shelf.refresh()
        ending = asyncio.Event()
        polling = asyncio.gather(shelf.keep_fresh(ending), keyring.keep_fresh(ending))
        try:
            yield
        finally:
            ending.set()
            await polling
            await ledger.close()
            await kept.close()

    def stock() -> Stock:
        return Stock(shelf.sizes, kept.connections)

    async def reasons() -> list[str]:
        stopping = ["The service is stopping."] if frame.is_stopping else []
        return stopping + await _reasons_of(catalogue)

    watch, judged = Watch(), Judged()
    figures = Figures(watch, judged, stock).exposition
    told, past, alone = DatabaseJournal(kept), DatabaseHistory(kept), settings.one_person_may_release
    service = Service(
        catalogue,
        shelf,
        ledger,
        past,
        DatabaseInstruments(kept),
        LineHistories(DatabaseLines(kept)),
        keys,
        keyring,
        reasons,
        figures,
        document,
        judged,
        told,
        Cluster(settings.dask_scheduler) if settings.dask_scheduler else Processes(),
        lambda: frame.is_stopping,
        alone,
        settings.most_readings,
    )
    frame = Frame(Router(routes()), living, _bounds(settings), service, watch)
    return frame


async def _reasons_of(catalogue: Catalogue) -> list[str]:
    """Why the catalogue can't be asked; [] where it can."""
    try:
        found = await catalogue.tables()
    except CatalogueAwayError as error:
        return [str(error)]
    if found is None:
        return ["The database has no tables yet. Run `markeryarn migrate`."]
    if found.version < SCHEMA:
        return [
            f"The database has tables of version {found.version}, and this release needs {SCHEMA}. Run `markeryarn migrate`."
        ]
    if found.oldest > SCHEMA:
        return [f"The database has tables of version {found.version}; this release works on {SCHEMA}. Run a newer release."]
    return []


def _bounds(settings: Settings) -> Bounds:
    """What a request may be at most."""
    return Bounds(
        hosts=settings.host_names,
        most_bytes=settings.max_body,
        body_seconds=settings.body_timeout,
        leaving_seconds=settings.leaving_for,
        most_in_flight=settings.most_in_flight,
        most_a_second=settings.rate_per_key,
        is_encrypted=bool(settings.tls_certificate),
    )
