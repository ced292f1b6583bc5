"""Run the application on granian: check the settings, announce when it answers, and drain requests on SIGTERM."""

import asyncio
import logging
from contextlib import suppress
from pathlib import Path

import uvloop
from granian.constants import HTTPModes, Interfaces, SSLProtocols
from granian.http import HTTP1Settings
from granian.server.embed import Server

from service.api.application import Application
from service.api.serving.listening import Listening, check_address, check_files, check_free, check_reach
from service.api.serving.shutdown import Shutdown
from service.api.watching.logs import NAME, log_to_standard_error

LOGGER = logging.getLogger(NAME)
SECONDS_BETWEEN_TRIES = 0.01
MOST_OF_HEAD = 64 * 1024
"""Bytes of granian's buffer for a request's head; it answers 431 to a head several times as long, or of over 100 lines."""


def serve(application: Application, listening: Listening) -> None:
    """Serve until SIGTERM or SIGINT, finish the requests in flight, and return.

    listening  an address that other machines can reach only where keys are needed, or where it is allowed explicitly

    Prints one line as soon as requests are answered; logs to standard error.

    Raises CannotServeError, and whatever the application raises at its start.
    """
    check_address(listening)
    check_files(listening)
    check_free(listening)
    log_to_standard_error()
    uvloop.run(_serve(application, listening))


async def _serve(application: Application, listening: Listening) -> None:
    # The lifespan is entered here rather than by the server, as keys and warnings have to be known before the port is opened.
    async with application.lifespan():
        for text in check_reach(listening, asks_for_keys=application.policy.asks_for_keys):
            LOGGER.warning(text)
        application.policy.hosts.add(listening.name)
        server = Server(
            application,
            listening.address,
            listening.port,
            # ASGI without lifespan events, which are handled above.
            interface=Interfaces.ASGINL,
            http=HTTPModes.http1,
            websockets=False,
            log_enabled=False,
            backlog=1024,
            # granian also ends a connection on which no whole head arrives for 30 seconds; other servers have their own bounds.
            http1_settings=HTTP1Settings(max_buffer_size=MOST_OF_HEAD),
            ssl_cert=Path(listening.certificate) if listening.is_encrypted else None,
            ssl_key=Path(listening.key) if listening.is_encrypted else None,
            # Some testing stations are too old for TLS 1.3.
            ssl_protocol_min=SSLProtocols.tls12,
        )
        shutdown = Shutdown(application.policy)
        shutdown.install_signal_handlers()
        announcing = asyncio.create_task(_announce(listening))
        await shutdown.run(asyncio.create_task(server.serve()), server.stop)
        announcing.cancel()
        with suppress(asyncio.CancelledError):
            await announcing


async def _announce(listening: Listening) -> None:
    """Print one line once the server accepts a connection."""
    while True:
        try:
            _, writer = await asyncio.open_connection(listening.address, listening.port)
        except OSError:
            await asyncio.sleep(SECONDS_BETWEEN_TRIES)
        else:
            break
    writer.close()
    print(f"Marker Yarn answers at {listening.url}, with its documents at /docs. Stop it with Ctrl+C.", flush=True)  # noqa: T201  the line is what a caller waits for
