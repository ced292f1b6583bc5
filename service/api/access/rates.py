"""How many requests one caller may send in a second, whatever else is free."""

import math
import time
from collections.abc import Callable

from service.api.problems import Head, RefusalError


class RateLimiter:
    """A bucket for each caller, by name: it holds a second's worth of requests, and fills up as time goes by.

    The fields are those of draft-ietf-httpapi-ratelimit-headers: `RateLimit-Policy` with the quota (q) in a window of seconds
    (w), `RateLimit` with what is left of it (r) and the seconds until it is whole again (t).
    """

    def __init__(self, per_second: int, clock: Callable[[], float] = time.monotonic) -> None:
        """Let each caller send so many; `clock` gives seconds that only grow."""
        self._per_second, self._clock = per_second, clock
        self._buckets: dict[str, tuple[float, float]] = {}
        """What is in it, and when that was so; as many as there are names of keys."""
        self._policy = ("ratelimit-policy", f'"key";q={per_second};w=1')

    def take(self, name: str) -> None:
        """Count a request of this caller. Raises RefusalError where he has none left."""
        left = self._left(name)
        if left < 1:
            # A whole one is there after a second at most, as at least one a second is.
            text = f"More than {self._per_second} requests a second came from {name}. Send this one again in a second."
            raise RefusalError("too-many-requests", text, (("retry-after", "1"),))
        self._buckets[name] = (left - 1, self._clock())

    def fields(self, name: str) -> Head:
        """The header fields that tell a caller what he has left."""
        left = self._left(name)
        seconds = math.ceil((self._per_second - left) / self._per_second)
        return self._policy, ("ratelimit", f'"key";r={int(left)};t={seconds}')

    def _left(self, name: str) -> float:
        """What is in the caller's bucket by now."""
        then, at = self._buckets.get(name, (float(self._per_second), 0.0))
        return min(self._per_second, then + (self._clock() - at) * self._per_second)
