"""The document of health."""

from msgspec import Struct


class Health(Struct, frozen=True):
    """Whether the service can answer requests, and if not, why."""

    ready: bool
    reasons: list[str]
