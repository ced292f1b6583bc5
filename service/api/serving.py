"""One worker that serves the application: starts, says when it answers, and on SIGTERM finishes what is in flight."""

import asyncio
import errno
import ipaddress
import socket
from contextlib import suppress

import uvloop
from granian.constants import HTTPModes, Interfaces
from granian.server.embed import Server

from service.api.frame import Frame
from service.api.leaving import Leaving
from service.api.logs import log_to_standard_error

LOCALHOST = "127.0.0.1"
SECONDS_BETWEEN_LOOKS = 0.01


class CannotServeError(Exception):
    """The server can't start; its text says why and what to do."""


def serve(application: Frame, host: str, port: int) -> None:
    """Serve until SIGTERM or SIGINT, then finish what is in flight and return.

    host  a loopback address or `localhost`: without keys and TLS nobody else may reach the service

    Prints one line as soon as requests are answered; logs to standard error.

    Raises CannotServeError, and whatever the application raises at its start.
    """
    address = _loopback(host)
    _check_free(address, port)
    log_to_standard_error()
    uvloop.run(_serve(application, address, port))


def _loopback(host: str) -> str:
    """The address of a host name that only this machine can reach."""
    address = LOCALHOST if host == "localhost" else host.strip("[]")
    try:
        is_loopback = ipaddress.ip_address(address).is_loopback
    except ValueError:
        is_loopback = False
    if not is_loopback:
        text = f"`{host}` can be reached from elsewhere, and neither keys nor TLS are set up. Serve on 127.0.0.1 or ::1."
        raise CannotServeError(text)
    return address


def _check_free(address: str, port: int) -> None:
    """The server itself would share a port with another one, and each would answer some of the requests."""
    family = socket.AF_INET6 if ":" in address else socket.AF_INET
    with socket.socket(family) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((address, port))
        except OSError as error:
            why = "is in use already" if error.errno == errno.EADDRINUSE else f"can't be had ({error.strerror})"
            raise CannotServeError(f"Port {port} on {address} {why}. Give another one by --port.") from error


async def _serve(application: Frame, address: str, port: int) -> None:
    async with application.running():
        server = Server(
            application,
            address,
            port,
            interface=Interfaces.ASGINL,
            http=HTTPModes.http1,
            websockets=False,
            log_enabled=False,
            backlog=1024,
        )
        leaving = Leaving(application)
        leaving.listen()
        announcing = asyncio.create_task(_announce(address, port))
        await leaving.take(asyncio.create_task(server.serve()), server.stop)
        announcing.cancel()
        with suppress(asyncio.CancelledError):
            await announcing


async def _announce(address: str, port: int) -> None:
    """Print one line when a connection is taken."""
    while True:
        try:
            _, writer = await asyncio.open_connection(address, port)
        except OSError:
            await asyncio.sleep(SECONDS_BETWEEN_LOOKS)
        else:
            break
    writer.close()
    shown = f"[{address}]" if ":" in address else address
    print(f"Marker Yarn answers at http://{shown}:{port}, with its documents at /docs. Stop it by Ctrl+C.", flush=True)  # noqa: T201  the line is what a caller waits for
