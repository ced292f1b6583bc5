"""Who may come in: the key that a request shows, and whether it is good for what is asked (RFC 6750)."""

import re

from service.api.problems import RefusalError
from service.api.routing import Route
from service.api.wires import Fields, Head
from service.ports import CatalogueAwayError, Scope
from service.usecases.keyring import Keyring
from service.usecases.principals import LOCAL, Principal

_BEARER = re.compile(r"Bearer +([!-~]+) *\Z", re.IGNORECASE)
_TOKEN = re.compile(r"mky_[0-9a-f]{8}_[A-Za-z0-9_-]{43}\Z")
ALONE = (Scope.JUDGE, Scope.AUTHOR)
"""Scopes of which some operations need no database: judging by a specification that comes along, reviewing one."""
REALM = 'Bearer realm="markeryarn"'


async def admitted(keyring: Keyring, headers: Fields, route: Route) -> Principal:
    """Who asks, if he may. Raises RefusalError, CatalogueAwayError."""
    by = known_to_be_good(keyring, headers, route)
    if by is None:
        by = _with_scope(await _looked_up(keyring, headers.get("authorization"), route), route)
    return by


def known_to_be_good(keyring: Keyring, headers: Fields, route: Route) -> Principal | None:
    """Who asks, where that is in memory; None where it has to be looked up. Raises RefusalError, CatalogueAwayError."""
    shown = headers.get("authorization")
    # A key that is shown to a service without any may be the first, made a moment ago.
    if shown is None:
        return LOCAL if keyring.is_open or route.scope is None else None
    if route.scope is None:
        return LOCAL
    by = keyring.principal(shown[len("Bearer ") :].encode("latin-1")) if shown.startswith("Bearer ") else None
    return by and _with_scope(by, route)


def _with_scope(by: Principal, route: Route) -> Principal:
    """The same, where he may ask this. Raises RefusalError."""
    scope = route.scope
    if scope is not None and scope not in by.scopes:
        text = f"Your key is not good for this: it lacks the scope `{scope}`. Ask whoever gives out keys for one that has it."
        raise RefusalError("scope-lacking", text, _challenge(f', error="insufficient_scope", scope="{scope}"'))
    return by


async def _looked_up(keyring: Keyring, shown: str | None, route: Route) -> Principal:
    """Whose key it is that is not known here yet, by the database as it is now."""
    match = _BEARER.match(shown or "")
    # A key may have been made a moment ago; what does not look like one needs no statement.
    is_unknown_key = match is not None and _TOKEN.match(match[1]) and keyring.principal(match[1].encode()) is None
    if is_unknown_key or not keyring.is_known:
        try:
            await keyring.look_again()
        except CatalogueAwayError:
            if keyring.is_open:
                return LOCAL
            if _needs_to_know(keyring, route):
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


def _needs_to_know(keyring: Keyring, route: Route) -> bool:
    """Whether a request without a known key has to wait until the database tells if one is asked for.

    A replica that starts while the database is away does what neither reads nor changes anything that is kept, and only for
    this machine: where others are to reach it, there may be keys, and who has none would be let in.
    """
    return keyring.is_known or keyring.is_for_others or "{" in route.path or route.scope not in ALONE


def _challenge(rest: str) -> Head:
    return (("www-authenticate", f"{REALM}{rest}"),)
