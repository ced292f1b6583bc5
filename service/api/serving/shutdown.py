"""How a service takes its leave: it says so, answers on for a while, takes nothing new, and finishes what is in flight."""

import asyncio
import logging
import signal
from collections.abc import Callable
from contextlib import suppress

from service.api.application import RequestPolicy
from service.api.watching.logs import NAME

LOGGER = logging.getLogger(NAME)
SECONDS_TO_FINISH = 15
"""For what is in flight when nothing new is taken any more; a body has 10 seconds to come unless it is set otherwise."""


class Shutdown:
    """What SIGTERM and SIGINT begin."""

    def __init__(self, policy: RequestPolicy) -> None:
        """Of the application behind this edge; SIGINT, and a second signal, come from somebody who waits."""
        self._policy = policy
        self._is_urgent = asyncio.Event()
        self._is_signalled = asyncio.Event()

    def install_signal_handlers(self) -> None:
        """From now on the signals are heard."""
        loop = asyncio.get_running_loop()
        loop.add_signal_handler(signal.SIGTERM, self._on_terminate)
        loop.add_signal_handler(signal.SIGINT, self._on_interrupt)

    async def run(self, serving: asyncio.Task[None], stop: Callable[[], None]) -> None:
        """Wait for a signal, and then until the server has ended.

        stop  makes the server take nothing new, and end when it has answered
        """
        signalled = asyncio.create_task(self._is_signalled.wait())
        await asyncio.wait({signalled, serving}, return_when=asyncio.FIRST_COMPLETED)
        if signalled.done():
            # Balancers look at /health/ready every so often; until they have, they send requests here.
            with suppress(TimeoutError):
                await asyncio.wait_for(self._is_urgent.wait(), self._policy.leaving_seconds)
            stop()
            await asyncio.wait({serving}, timeout=SECONDS_TO_FINISH)
        for task in (signalled, serving):
            if not task.done():
                task.cancel()
        with suppress(asyncio.CancelledError):
            await serving
        left = self._policy.watch.in_flight
        LOGGER.info("Stopped, %s.", f"with {left} requests not answered" if left else "with all requests answered")

    def _on_terminate(self) -> None:
        if self._policy.is_stopping:
            self._is_urgent.set()
        else:
            LOGGER.info("Told to stop. Requests are taken for %g seconds more.", self._policy.leaving_seconds)
        self._policy.is_stopping = True
        self._is_signalled.set()

    def _on_interrupt(self) -> None:
        LOGGER.info("Told to stop at once.")
        self._policy.is_stopping = True
        self._is_urgent.set()
        self._is_signalled.set()
