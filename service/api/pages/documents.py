"""How the service is."""

from msgspec import Struct


class Health(Struct, frozen=True):
    """Whether the service answers, and if not, why."""

    ready: bool
    reasons: list[str]
