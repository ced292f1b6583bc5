"""Who may do what: every operation of the OpenAPI document with every scope, without a key, and with keys that are not good."""

import contextlib
import hashlib
from collections.abc import AsyncIterator, Mapping
from datetime import timedelta
from pathlib import Path
from typing import NamedTuple

import httpx
import pytest
from litestar.testing import AsyncTestClient
from msgspec.structs import replace

from service.app import create_app
from service.ports.catalogue import Key, Scope
from service.settings import Settings
from service.storage import database
from service.storage.database import migrate_database
from service.storage.keys import DatabaseKeys
from service.usecases.keys.issuing import add_key
from tests.support.applications import the_document
from tests.support.permissions import Rule, matrix, rules
from tests.support.within import ADDRESS

DOCUMENT = the_document()
RULES = list(rules(DOCUMENT))
PLACES = {
    "grade": "NO-SUCH",
    "revision": "1",
    "key": "mky_00000000",
    "lot": "NO-SUCH",
    "characteristic": "NO-SUCH",
    "batch": "NO-SUCH",
    "verdict": "1",
    "claim": "NO-SUCH",
    "concession": "NO-SUCH",
    "instrument": "NO-SUCH",
    "line": "NO-SUCH",
    "file": "page.js",
}
MADE_UP = f"mky_00000000_{'a' * 43}"
EXPIRED = f"mky_00000001_{'b' * 43}"
"""Of the form of a key, whose secret part has 43 signs: 32 bytes in base64."""
MALFORMED = [
    "Bearer",
    "Bearer ",
    "Bearer x",
    "Basic a2ltOjA=",
    "mky_00000000",
    f"Token {MADE_UP}",
]


class Locked(NamedTuple):
    """A service that asks for keys, and one key for each scope."""

    client: httpx.AsyncClient
    keys: DatabaseKeys
    tokens: Mapping[str, str]


@contextlib.asynccontextmanager
async def service_with(folder: Path, **scopes_by_name: frozenset[Scope]) -> AsyncIterator[Locked]:
    """A service whose database has keys of these names already."""
    url = f"sqlite:///{folder}/grades.db"
    await migrate_database(url)
    kept = database(url)
    keys = DatabaseKeys(kept)
    tokens = {name: (await add_key(keys, name, scopes, None)).token for name, scopes in scopes_by_name.items()}
    application = create_app(Settings(database_url=url, body_timeout=0.2, poll_every=60))
    async with AsyncTestClient(application, base_url=ADDRESS) as client:
        yield Locked(client, keys, tokens)
    await kept.close()


@pytest.fixture
async def locked(tmp_path: Path) -> AsyncIterator[Locked]:
    """A service with a key for each scope, named after it."""
    async with service_with(tmp_path, **{scope.value: frozenset({scope}) for scope in Scope}) as made:
        yield made


def bearer(token: str) -> dict[str, str]:
    """The header that shows a key."""
    return {"authorization": f"Bearer {token}"}


def expired_since(like: Key, ago: timedelta) -> Key:
    """A key as it is kept some time after it was made."""
    digest = hashlib.sha256(EXPIRED.encode()).hexdigest()
    return replace(like, key=EXPIRED[:12], name="lee", digest=digest, expires_at=like.added_at - ago)


async def asked(client: httpx.AsyncClient, rule: Rule, headers: Mapping[str, str]) -> httpx.Response:
    """What comes of asking for an operation, with a body that is no JSON where it takes one."""
    return await client.request(rule.method, rule.path.format_map(PLACES), headers=headers)


def at_rule(rule: Rule) -> str:
    """Which operation it is."""
    return f"{rule.method} {rule.path}"


def test_every_operation_has_a_rule() -> None:
    """A route that anyone may ask is one that somebody has decided on."""
    open_to_all = {rule.path for rule in RULES if not rule.scope}

    assert {"/health/live", "/health/ready", "/openapi.json"} >= {each for each in open_to_all if not each.startswith("/docs")}
    assert {scope for _, _, scope in RULES if scope} <= set(Scope)


@pytest.mark.parametrize("rule", RULES, ids=at_rule)
async def test_only_the_scope_of_the_rule_gets_in(locked: Locked, rule: Rule) -> None:
    """Each scope is only itself: whoever may release may not author."""
    for scope, token in locked.tokens.items():
        answer = await asked(locked.client, rule, bearer(token))
        if rule.scope in {"", scope}:
            assert answer.status_code not in {401, 403}, scope
        else:
            assert (403, "/problems/scope-lacking") == (answer.status_code, answer.json()["type"]), scope
            assert f'scope="{rule.scope}"' in answer.headers["www-authenticate"]
            assert f"`{rule.scope}`" in answer.json()["detail"]


@pytest.mark.parametrize("rule", RULES, ids=at_rule)
async def test_nobody_gets_in_without_a_good_key(locked: Locked, rule: Rule) -> None:
    """No key, one made up, one revoked, one expired: 401 wherever a scope is asked for."""
    revoked = await add_key(locked.keys, "kim", frozenset(Scope), None)
    await locked.client.get("/v1/units", headers=bearer(revoked.token))
    body = {"reason": "It was lost."}
    administer = bearer(locked.tokens["administer"])
    await locked.client.post(f"/v1/keys/{revoked.kept.key}/revoke", json=body, headers=administer)
    await locked.keys.add(expired_since(revoked.kept, timedelta(seconds=1)))
    for token in (None, MADE_UP, revoked.token, EXPIRED):
        answer = await asked(locked.client, rule, bearer(token) if token else {})
        if not rule.scope:
            assert answer.status_code not in {401, 403}
        else:
            kind, rest = ("key-not-known", ', error="invalid_token"') if token else ("key-missing", "")
            assert (401, f"/problems/{kind}") == (answer.status_code, answer.json()["type"])
            assert f'Bearer realm="markeryarn"{rest}' == answer.headers["www-authenticate"]


@pytest.mark.parametrize("shown", MALFORMED)
async def test_what_is_no_key_is_refused(locked: Locked, shown: str) -> None:
    """A proxy's password or half a key is no key."""
    assert 401 == (await locked.client.get("/v1/units", headers={"authorization": shown})).status_code


async def test_the_name_of_the_scheme_may_be_written_in_any_case(locked: Locked) -> None:
    """As RFC 9110, 11.1 has it."""
    shown = {"authorization": f"bearer {locked.tokens['read']}"}

    assert 200 == (await locked.client.get("/v1/units", headers=shown)).status_code


@pytest.mark.parametrize(
    ("method", "path", "status"),
    [
        ("GET", "/no/such/path", 404),
        ("DELETE", "/v1/grades", 405),
        ("GET", "/v1/grades/X", 401),
        ("OPTIONS", "/v1/checks", 204),
    ],
)
async def test_who_has_no_key_learns_nothing_of_what_exists(locked: Locked, method: str, path: str, status: int) -> None:
    """Paths and methods stand in the open document; grades do not."""
    assert status == (await locked.client.request(method, path)).status_code


async def test_the_first_key_counts_from_its_first_use(tmp_path: Path) -> None:
    """Whoever has just closed the service sees that it is closed, and does not wait for the next look."""
    async with service_with(tmp_path) as made:
        assert 200 == (await made.client.get("/v1/units")).status_code
        token = (await add_key(made.keys, "station-7", frozenset({Scope.CHECK}), None)).token

        assert 403 == (await made.client.get("/v1/units", headers=bearer(token))).status_code
        assert 401 == (await made.client.get("/v1/units")).status_code


async def test_the_last_key_revoked_does_not_open_the_service(tmp_path: Path) -> None:
    """Else whoever revokes a stolen key would let everybody in."""
    async with service_with(tmp_path, kim=frozenset({Scope.ADMINISTER})) as made:
        (only,) = await made.keys.live()
        shown = bearer(made.tokens["kim"])
        answer = await made.client.post(f"/v1/keys/{only.key}/revoke", json={"reason": "It was lost."}, headers=shown)

        assert (200, "It was lost.") == (answer.status_code, answer.json()["reason"])
        assert 401 == (await made.client.get("/v1/units")).status_code
        assert 401 == (await made.client.get("/v1/keys", headers=shown)).status_code


async def test_the_list_of_keys_has_nothing_secret(locked: Locked) -> None:
    """An administrator sees whose keys there are, and can use none of them."""
    answer = await locked.client.get("/v1/keys", headers=bearer(locked.tokens["administer"]))

    assert sorted(Scope) == sorted(key["name"] for key in answer.json()["keys"])
    assert not any(token[13:] in answer.text for token in locked.tokens.values())
    assert "digest" not in answer.text


async def test_keys_are_listed_by_pages(locked: Locked) -> None:
    """A mill with hundreds of stations gets them all, each once."""
    administer, seen, after = bearer(locked.tokens["administer"]), [], ""
    while True:
        page = (await locked.client.get(f"/v1/keys?limit=2{after}", headers=administer)).json()
        seen += [key["name"] for key in page["keys"]]
        if "next" not in page:
            break
        after = f"&after={page['next']}"

    assert sorted(Scope) == sorted(seen)


async def test_a_key_that_is_not_there_cannot_be_revoked(locked: Locked) -> None:
    """404, with where to look."""
    administer = bearer(locked.tokens["administer"])
    answer = await locked.client.post("/v1/keys/mky_00000000/revoke", json={"reason": "It was lost."}, headers=administer)

    assert 404 == answer.status_code
    assert "`mky_00000000`" in answer.json()["detail"]


def test_the_matrix_on_the_page_for_operators_is_what_the_code_says() -> None:
    """Whoever gives out keys reads it there."""
    written, page = matrix(DOCUMENT), Path(__file__).parents[2] / "openapi" / "OPERATING.md"
    if written not in page.read_text(encoding="utf-8"):
        pytest.fail(f"Put this table in place of the one in {page.name}:\n\n{written}", pytrace=False)
