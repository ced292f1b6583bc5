"""The rate limit of each caller; each replica counts by itself, so two let twice as many requests through."""

import math
import time
from collections.abc import Callable

from service.api.problems import HeaderFields, RefusalError
from service.engine.documents import counted


class RateLimiter:
    """A token bucket for each caller, by the name of its key: it holds one second's requests and refills continuously.

    Header fields by draft-ietf-httpapi-ratelimit-headers: `RateLimit-Policy` with the quota (q) in a window of seconds (w),
    `RateLimit` with the requests left (r) and the seconds until the quota is whole again (t).
    """

    def __init__(self, per_second: int, clock: Callable[[], float] = time.monotonic) -> None:
        """Limit each caller to `per_second` requests; `clock` is monotonic, in seconds."""
        self._per_second, self._clock = per_second, clock
        self._buckets: dict[str, tuple[float, float]] = {}
        """By caller: requests left, and when that was so. Bounded by the number of keys, as the name comes from the key."""
        self._policy = ("ratelimit-policy", f'"key";q={per_second};w=1')

    def take(self, name: str) -> None:
        """Count one request of this caller. Raises RefusalError where none is left."""
        left = self._left(name)
        if left < 1:
            # One second is always enough, as the limit is at least one request a second.
            text = (
                f"More than {counted(self._per_second, 'request')} a second came from {name}. Send this one again in a second."
            )
            raise RefusalError("too-many-requests", text, (("retry-after", "1"),))
        self._buckets[name] = (left - 1, self._clock())

    def header_fields(self, name: str) -> HeaderFields:
        """The header fields that report the caller's limit and what is left of it."""
        left = self._left(name)
        seconds = math.ceil((self._per_second - left) / self._per_second)
        return self._policy, ("ratelimit", f'"key";r={int(left)};t={seconds}')

    def _left(self, name: str) -> float:
        """Requests left to the caller now; may be a fraction."""
        then, at = self._buckets.get(name, (float(self._per_second), 0.0))
        return min(self._per_second, then + (self._clock() - at) * self._per_second)
