"""Who may come in: the key that a request shows, and whether it is good for what is asked (RFC 6750)."""

import re
from collections.abc import Mapping
from typing import Any

from litestar.connection import ASGIConnection
from litestar.handlers import BaseRouteHandler

from service.api.access.rates import RateLimiter
from service.api.exchanges import exchange_of
from service.api.operations import Operation, operation_of
from service.api.parameters import NAMES
from service.api.problems import NO_PATH, Head, RefusalError
from service.ports.catalogue import CatalogueAwayError, Scope
from service.usecases.keys import LOCAL, Keyring, Principal

_BEARER = re.compile(r"Bearer +([!-~]+) *\Z", re.IGNORECASE)
_TOKEN = re.compile(r"mky_[0-9a-f]{8}_[A-Za-z0-9_-]{43}\Z")
ALONE = (Scope.JUDGE, Scope.AUTHOR)
"""Scopes of which some operations need no database: judging by a specification that comes along, reviewing one."""
REALM = 'Bearer realm="markeryarn"'


class Admission:
    """The guard of every operation: what its path names can be there, its caller may ask, and has not asked too often."""

    def __init__(self, keyring: Keyring, rates: RateLimiter | None) -> None:
        """By these keys, and so many requests of each."""
        self._keyring, self._rates = keyring, rates

    async def __call__(self, connection: ASGIConnection[Any, Any, Any, Any], handler: BaseRouteHandler) -> None:
        """Let it in, and note whose it is. Raises RefusalError, CatalogueAwayError."""
        scope, operation = connection.scope, operation_of(handler)
        exchange = exchange_of(scope)
        exchange.operation = operation
        check_names(scope["path_params"])
        shown = exchange.header(b"authorization")
        by = known_to_be_good(self._keyring, shown, operation)
        if by is None:
            is_alone = operation.scope in ALONE and not scope["path_params"]
            by = await _looked_up(self._keyring, shown, is_alone=is_alone)
        # Before it may be refused, so that the log has whose it was.
        exchange.by = scope["user"] = by
        if operation.scope is not None and operation.scope not in by.scopes:
            raise _lacking(operation.scope)
        if self._rates and not operation.is_always_open:
            self._rates.take(by.name)


def check_names(names: Mapping[str, Any]) -> None:
    """Raise RefusalError for a path with a name that nothing can have."""
    for name, text in names.items():
        if not NAMES[name].fullmatch(str(text)):
            raise RefusalError("not-found", NO_PATH)


def known_to_be_good(keyring: Keyring, shown: str | None, operation: Operation) -> Principal | None:
    """Who asks, where that is in memory; None where it has to be looked up. Raises RefusalError, CatalogueAwayError."""
    # A key that is shown to a service without any may be the first, made a moment ago.
    if shown is None:
        return LOCAL if keyring.is_open or operation.scope is None else None
    if operation.scope is None:
        return LOCAL
    return keyring.principal(shown[len("Bearer ") :].encode("latin-1")) if shown.startswith("Bearer ") else None


def _lacking(scope: Scope) -> RefusalError:
    """His key is not good for this."""
    text = f"Your key is not good for this: it lacks the scope `{scope}`. Ask whoever gives out keys for one that has it."
    return RefusalError("scope-lacking", text, _challenge(f', error="insufficient_scope", scope="{scope}"'))


async def _looked_up(keyring: Keyring, shown: str | None, *, is_alone: bool) -> Principal:
    """Whose key it is that is not known here yet, by the database as it is now.

    is_alone  whether what is asked needs nothing that is kept
    """
    match = _BEARER.match(shown or "")
    # A key may have been made a moment ago; what does not look like one needs no statement.
    is_unknown_key = match is not None and _TOKEN.match(match[1]) and keyring.principal(match[1].encode()) is None
    if is_unknown_key or not keyring.is_known:
        try:
            await keyring.look_again()
        except CatalogueAwayError:
            if keyring.is_open:
                return LOCAL
            if _needs_to_know(keyring, is_alone=is_alone):
                raise
            return LOCAL
    if keyring.is_open:
        return LOCAL
    if match is None:
        text = "A key is needed here. Send it in the header Authorization, as `Bearer mky_…`; `markeryarn key add` makes one."
        raise RefusalError("key-missing", text, _challenge(""))
    by = keyring.principal(match[1].encode())
    if by is None:
        text = "The key is not known, or has expired or been revoked. Ask whoever gives out keys for another one."
        raise RefusalError("key-not-known", text, _challenge(', error="invalid_token"'))
    return by


def _needs_to_know(keyring: Keyring, *, is_alone: bool) -> bool:
    """Whether a request without a known key has to wait until the database tells if one is asked for.

    A replica that starts while the database is away does what neither reads nor changes anything that is kept, and only for
    this machine: where others are to reach it, there may be keys, and who has none would be let in.
    """
    return keyring.is_known or keyring.is_for_others or not is_alone


def _challenge(rest: str) -> Head:
    return (("www-authenticate", f"{REALM}{rest}"),)
