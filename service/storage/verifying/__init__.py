"""Whether the journal is whole, and whether each row of each table is what it tells, or what follows from it."""

from service.storage.verifying.whole import Verified, verify, verify_in

__all__ = [
    "Verified",
    "verify",
    "verify_in",
]
