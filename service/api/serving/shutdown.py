"""The stop of a service: first it reports not ready but still answers, then it accepts no connections and finishes the rest."""

import asyncio
import logging
import signal
from collections.abc import Callable
from contextlib import suppress

from service.api.application import RequestPolicy
from service.api.watching.logs import NAME
from service.engine.documents import counted

LOGGER = logging.getLogger(NAME)
SECONDS_TO_FINISH = 15
"""For requests in flight once no new ones are accepted; by default a body may take 10 seconds to arrive."""


class Shutdown:
    """The two phases of a stop, started by SIGTERM or SIGINT."""

    def __init__(self, policy: RequestPolicy) -> None:
        """Prepare the stop; SIGINT or a second SIGTERM skips the first phase, as somebody waits for the end."""
        self._policy = policy
        self._is_urgent = asyncio.Event()
        self._is_signalled = asyncio.Event()

    def install_signal_handlers(self) -> None:
        """Handle SIGTERM and SIGINT from now on."""
        loop = asyncio.get_running_loop()
        loop.add_signal_handler(signal.SIGTERM, self._on_terminate)
        loop.add_signal_handler(signal.SIGINT, self._on_interrupt)

    async def run(self, serving: asyncio.Task[None], stop: Callable[[], None]) -> None:
        """Wait for a signal, then run both phases until the server has ended.

        serving  the task of the server
        stop     makes the server accept no new connections and end once it has answered
        """
        signalled = asyncio.create_task(self._is_signalled.wait())
        await asyncio.wait({signalled, serving}, return_when=asyncio.FIRST_COMPLETED)
        if signalled.done():
            # Load balancers poll /health/ready; until the next poll they still send requests here.
            with suppress(TimeoutError):
                await asyncio.wait_for(self._is_urgent.wait(), self._policy.leaving_seconds)
            # What the kernel has queued and nobody has accepted is cut off here; a client that repeats loses nothing by it.
            stop()
            await asyncio.wait({serving}, timeout=SECONDS_TO_FINISH)
        for task in (signalled, serving):
            if not task.done():
                task.cancel()
        with suppress(asyncio.CancelledError):
            await serving
        left = self._policy.watch.in_flight
        LOGGER.info("Stopped, %s.", f"with {counted(left, 'request')} not answered" if left else "with all requests answered")

    def _on_terminate(self) -> None:
        if self._policy.is_stopping:
            self._is_urgent.set()
        else:
            LOGGER.info("Stopping. Requests are taken for another %g seconds.", self._policy.leaving_seconds)
        self._policy.is_stopping = True
        self._is_signalled.set()

    def _on_interrupt(self) -> None:
        LOGGER.info("Stopping at once.")
        self._policy.is_stopping = True
        self._is_urgent.set()
        self._is_signalled.set()
