"""One request on its way to its handler."""

from collections.abc import Mapping

from msgspec import Struct

from service.api.routing import Route
from service.api.wires import Fields
from service.usecases.principals import LOCAL, Principal

NO_NAMES: Mapping[str, str] = {}


class Exchange(Struct):
    """What is known of a request before its handler sees it."""

    request_id: str
    route: Route
    method: str
    headers: Fields
    begun: float
    """By `time.perf_counter`."""
    names: Mapping[str, str] = NO_NAMES
    """What the path names."""
    by: Principal = LOCAL
    """Who asks; set as soon as the key is looked up, for which the route must be known, so the exchange is not frozen."""
