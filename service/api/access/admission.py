"""Authentication and authorization: the bearer key of a request and the scope that the operation needs (RFC 6750)."""

import re
from collections.abc import Mapping
from typing import Any

from litestar.connection import ASGIConnection
from litestar.handlers import BaseRouteHandler

from service.api.access.rates import RateLimiter
from service.api.exchanges import exchange_of
from service.api.operations import Operation, operation_of
from service.api.parameters import PATH_PATTERNS, wrong_name
from service.api.problems import HeaderFields, RefusalError
from service.ports.catalogue import CatalogueAwayError, Scope
from service.usecases.keys import LOCAL, Keyring, Principal

_BEARER = re.compile(r"Bearer +([!-~]+) *\Z", re.IGNORECASE)
_TOKEN = re.compile(r"mky_[0-9a-f]{8}_[A-Za-z0-9_-]{43}\Z")
SCOPES_WITHOUT_DATABASE = (Scope.JUDGE, Scope.AUTHOR)
"""Scopes with operations that need no database: judging by a specification in the body, reviewing one."""
REALM = 'Bearer realm="markeryarn"'


class Admission:
    """Litestar's guard for all operations: valid path parameters, a key with the scope, and the caller's rate limit."""

    def __init__(self, keyring: Keyring, rates: RateLimiter | None) -> None:
        """Create the guard; `rates` is None where requests are not limited."""
        self._keyring, self._rates = keyring, rates

    # Asynchronous although it may not await anything: Litestar runs a synchronous guard in a thread of its own.
    async def __call__(self, connection: ASGIConnection[Any, Any, Any, Any], handler: BaseRouteHandler) -> None:
        """Store operation and caller in the exchange. Raises RefusalError, CatalogueAwayError."""
        scope, operation = connection.scope, operation_of(handler)
        exchange = exchange_of(scope)
        exchange.operation = operation
        # Before the key is looked up: a name that nothing can have is no path, for whoever asks.
        check_names(scope["path_params"])
        authorization = exchange.header(b"authorization")
        principal = cached_principal(self._keyring, authorization, operation)
        if principal is None:
            needs_no_database = operation.scope in SCOPES_WITHOUT_DATABASE and not scope["path_params"]
            principal = await _principal_from_database(self._keyring, authorization, needs_no_database=needs_no_database)
        # Before the scope check, so that the log line of a refusal names the caller.
        exchange.principal = scope["user"] = principal
        if operation.scope is not None and operation.scope not in principal.scopes:
            raise _scope_lacking(operation.scope)
        # After the key is known, as the limit is per key; callers who need none share one limit as `local`.
        if self._rates and not operation.is_always_open:
            self._rates.take(principal.name)


def check_names(names: Mapping[str, Any]) -> None:
    """Raise RefusalError for a path parameter that no resource can have as its name."""
    for name, text in names.items():
        if not PATH_PATTERNS[name].fullmatch(str(text)):
            raise RefusalError("not-found", wrong_name(name, str(text)))


def cached_principal(keyring: Keyring, authorization: str | None, operation: Operation) -> Principal | None:
    """The caller by the keys in memory; None where the database has to be asked. Raises CatalogueAwayError."""
    # A key sent to a service without keys may be the very first, added a moment ago: this request must not pass as `local`.
    if authorization is None:
        return LOCAL if keyring.is_open or operation.scope is None else None
    if operation.scope is None:
        return LOCAL
    return keyring.principal(authorization[len("Bearer ") :].encode("latin-1")) if authorization.startswith("Bearer ") else None


def _scope_lacking(scope: Scope) -> RefusalError:
    """403: the caller's key lacks the scope of the operation."""
    text = f"Your key does not allow this: it lacks the scope `{scope}`. Ask for a key that has it."
    return RefusalError("scope-lacking", text, _challenge(f', error="insufficient_scope", scope="{scope}"'))


async def _principal_from_database(keyring: Keyring, authorization: str | None, *, needs_no_database: bool) -> Principal:
    """The caller by the keys in the database, for a key that is not in memory.

    needs_no_database  whether the operation uses nothing that is stored

    Raises RefusalError for a missing or unknown key, CatalogueAwayError where only the database can tell.
    """
    match = _BEARER.match(authorization or "")
    # A key may have been added a moment ago. A text that does not have the form of a key costs no query, so that guesses can't
    # load the database.
    is_unknown_key = match is not None and _TOKEN.match(match[1]) and keyring.principal(match[1].encode()) is None
    if is_unknown_key or not keyring.is_known:
        try:
            await keyring.look_again()
        except CatalogueAwayError:
            # No key existed when the database was last reached: the keyring's answer holds, as for all other callers.
            if keyring.is_open:
                return LOCAL
            if _must_wait_for_database(keyring, needs_no_database=needs_no_database):
                raise
            return LOCAL
    if keyring.is_open:
        return LOCAL
    if match is None:
        text = "No key was sent. Send it in the header Authorization, as `Bearer mky_…`; `markeryarn key add` makes one."
        raise RefusalError("key-missing", text, _challenge(""))
    principal = keyring.principal(match[1].encode())
    if principal is None:
        text = "The key is not known, has expired or was revoked. Ask for another one."
        raise RefusalError("key-not-known", text, _challenge(', error="invalid_token"'))
    return principal


def _must_wait_for_database(keyring: Keyring, *, needs_no_database: bool) -> bool:
    """Whether a request without a known key is refused until the database tells whether keys are needed.

    A replica that starts while the database is away answers operations that use nothing stored, and only on this machine:
    where others can reach it the database may hold keys, and callers without one would be let in.
    """
    return keyring.is_known or keyring.is_for_others or not needs_no_database


def _challenge(rest: str) -> HeaderFields:
    return (("www-authenticate", f"{REALM}{rest}"),)
