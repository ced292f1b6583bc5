"""Lines of the log on their way out: handed over without waiting, written in groups by a thread of their own.

A terminal or a collector that reads slowly must not make callers wait, and one that does not read at all must not fill the
memory: past a bound lines are dropped, and counted.
"""

import atexit
import logging
import os
import threading
from collections import deque

MOST_WAITING = 4 * 1024 * 1024
"""Bytes of lines that wait to be written; with some 300 a line, about ten thousand of them."""
MOST_A_GROUP = 64 * 1024
"""Bytes written at a time: what an ordinary pipe takes."""
SECONDS_TO_FLUSH = 2
"""At the end of the process, for what still waits."""
SECONDS_BETWEEN_GROUPS = 0.05
"""Unless a whole group waits: a thread that woke for each line would take the interpreter from requests each time."""


class LinesInGroups(logging.Handler):
    """A handler that keeps lines for its thread to write, so that whoever logs waits for nothing."""

    def __init__(self, descriptor: int, most_waiting: int = MOST_WAITING) -> None:
        """Write to an open file; the thread starts at the first line."""
        super().__init__()
        self.dropped = 0
        """Lines that were not written: too many waited, or nobody reads any more."""
        self._descriptor, self._most_waiting = descriptor, most_waiting
        self._waiting: deque[bytes] = deque()
        self._bytes = 0
        self._changed = threading.Condition()
        self._is_idle = self._is_hurried = False
        self._thread: threading.Thread | None = None

    def emit(self, record: logging.LogRecord) -> None:
        """Keep the line, or drop it where too many wait."""
        # Made here: a record kept with its traceback would keep alive all that the failed request held.
        self.put(self.format(record).encode(errors="backslashreplace") + b"\n")

    def put(self, line: bytes) -> None:
        """Keep a line that is ready, or drop it where too many wait."""
        with self._changed:
            if self._bytes + len(line) > self._most_waiting:
                self.dropped += 1
                return
            self._waiting.append(line)
            self._bytes += len(line)
            if self._thread is None:
                self._thread = threading.Thread(target=self._write_for_ever, name="log lines", daemon=True)
                self._thread.start()
                atexit.register(self.flush)
            if self._is_idle:
                self._is_idle = False
                self._changed.notify_all()

    def flush(self) -> None:
        """Wait until all that was kept is written, but no longer than two seconds: perhaps nobody reads."""
        with self._changed:
            self._is_hurried = True
            self._changed.notify_all()
            self._changed.wait_for(lambda: not self._bytes, SECONDS_TO_FLUSH)
            self._is_hurried = False

    def _write_for_ever(self) -> None:
        while True:
            group = self._next_group()
            written = _write_all(self._descriptor, b"".join(group))
            with self._changed:
                self.dropped += 0 if written else len(group)
                self._bytes -= sum(map(len, group))
                self._changed.notify_all()
                if self._bytes < MOST_A_GROUP:
                    self._changed.wait_for(lambda: self._is_hurried, SECONDS_BETWEEN_GROUPS)

    def _next_group(self) -> list[bytes]:
        """The oldest lines, as many as go well together; waits for the first."""
        with self._changed:
            self._is_idle = not self._waiting
            self._changed.wait_for(lambda: self._waiting)
            group = [self._waiting.popleft()]
            size = len(group[0])
            while self._waiting and size + len(self._waiting[0]) <= MOST_A_GROUP:
                group.append(self._waiting.popleft())
                size += len(group[-1])
            return group


def _write_all(descriptor: int, content: bytes) -> bool:
    """Write it, however long that takes; False where it can't be written."""
    left = memoryview(content)
    try:
        while left:
            # Not through sys.stderr: a thread that hangs in it would keep the interpreter from ending.
            left = left[os.write(descriptor, left) :]
    except OSError:
        return False
    return True
