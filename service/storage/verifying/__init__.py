"""Verification of the journal, and of every row of every table against its entries."""

from service.storage.verifying.whole import Verified, verify, verify_in

__all__ = [
    "Verified",
    "verify",
    "verify_in",
]
