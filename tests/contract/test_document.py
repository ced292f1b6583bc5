"""The committed OpenAPI document and a running service, compared both ways over a socket.

What the document says is answered is provoked, and what is answered is looked up in the document. Left out are 500, 408,
429 and 503: the first must not happen, and what a body that does not come, a caller who sends too much, and a database that is
away lead to has tests of its own. 401 and 403 are those of a service that has keys.
"""

import json
import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import closing
from pathlib import Path
from typing import Any, NamedTuple

import jsonschema_rs
import pytest

from service.ports.catalogue import Scope
from tests.support import examples
from tests.support.commands import run
from tests.support.counted import attributes, look_grade
from tests.support.pages import TOP
from tests.support.services import Answered, ask, released, service_in
from tests.support.shown import documents_in

COMMITTED = (TOP / "openapi" / "openapi.json").read_text(encoding="utf-8")
DOCUMENT: dict[str, Any] = json.loads(COMMITTED)
OPERATIONS = {
    operation["operationId"]: (method.upper(), path, operation)
    for path, methods in DOCUMENT["paths"].items()
    for method, operation in methods.items()
}
PROVOKED_ELSEWHERE = {"401", "403", "408", "429", "500", "503"}
RELEASED, DRAFT = "1", "2"
NO_KEY = "mky_00000000"
AGAIN = "0412-08"
"""A lot that is open by the example itself."""
BY_1 = "0412-10"
"""One that goes by revision 1."""
CLOSED, TO_CLOSE = "0412-11", "0412-12"
"""One that has a verdict and was corrected, and one that a test closes."""
MOST_BYTES = 100_000
NAMES = {
    "grade": examples.GRADE,
    "revision": RELEASED,
    "key": NO_KEY,
    "lot": examples.LOT,
    "batch": examples.BATCH,
    "verdict": "1",
    "characteristic": examples.CHARACTERISTIC,
    "instrument": examples.INSTRUMENT,
    "line": examples.LINE,
    "claim": examples.CLAIM_NAME,
    "concession": examples.CONCESSION_NAME,
}
JSON_TYPE = {"Content-Type": "application/json"}


def document(of: object) -> bytes:
    """A body."""
    return json.dumps(of).encode()


ALTERED = "0412-13"
"""A lot whose row somebody has altered in the database."""
SWITCHING = "TB-L"
"""A grade whose plan switches."""
TIGHTEN = {**examples.DECISION, "id": "QM-11", "inspection": "tightened"}
MOVE_TO_4 = document({**examples.MOVE, "revision": 4})


class Sent(NamedTuple):
    """What is changed in a good request, to get another answer."""

    revision: str = RELEASED
    grade: str = examples.GRADE
    key: str = NO_KEY
    query: str = ""
    lot: str = examples.LOT
    batch: str = examples.BATCH
    instrument: str = examples.INSTRUMENT
    line: str = examples.LINE
    claim: str = examples.CLAIM_NAME
    concession: str = examples.CONCESSION_NAME
    content: bytes | None = None
    headers: Mapping[str, str] = {}


OF_STATUS: Mapping[str, Sent] = {
    "304": Sent(headers={"If-None-Match": "*"}),
    "400": Sent(content=b"{", headers={"Authorization": "Bearer a", "authorization": "Bearer b"}),
    "404": Sent(grade="NO-SUCH", lot="NO-SUCH", instrument="NO-SUCH"),
    "412": Sent(DRAFT, headers={"If-Match": '"stale"'}),
    "413": Sent(content=b" " * (MOST_BYTES + 1)),
    "415": Sent(headers={"Content-Type": "text/plain"}),
    "421": Sent(headers={"Host": "elsewhere.example"}),
    "422": Sent(query="?no-such-parameter=1"),
    "428": Sent(DRAFT),
}
"""What leads to a status, whatever the operation."""
OF_OPERATION: Mapping[tuple[str, str], Sent] = {
    ("addDraft", "200"): Sent(grade="TB-132"),
    ("addDraft", "201"): Sent(grade="TB-131"),
    ("addDraft", "404"): Sent(grade="-"),
    ("replaceSpecification", "200"): Sent(DRAFT, headers={"If-Match": "*"}),
    ("replaceSpecification", "409"): Sent(headers={"If-Match": "*"}),
    ("showChanges", "200"): Sent(DRAFT),
    ("releaseRevision", "200"): Sent("3"),
    ("withdrawRevision", "200"): Sent("4"),
    ("withdrawRevision", "409"): Sent(DRAFT),
    ("openLot", "200"): Sent(lot=AGAIN),
    ("openLot", "404"): Sent(lot="-"),
    ("openLot", "201"): Sent(lot="0412-09"),
    ("putInstrument", "201"): Sent(instrument="TT-3"),
    ("putInstrument", "404"): Sent(instrument="-"),
    ("addAttributes", "201"): Sent(lot=AGAIN),
    ("addAttributes", "409"): Sent(content=document({**examples.ATTRIBUTES, "id": examples.BATCH})),
    ("moveLot", "200"): Sent(content=MOVE_TO_4),
    ("moveLot", "201"): Sent(lot=BY_1, content=MOVE_TO_4),
    ("strike", "201"): Sent(content=document({**examples.STRIKE, "id": "S-2"})),
    ("moveLot", "409"): Sent(content=document({**examples.MOVE, "id": "M-2", "revision": 1})),
    ("recordReadings", "201"): Sent(content=document({**examples.READINGS, "batch": "NEW"})),
    ("recordReadings", "409"): Sent(content=document({**examples.READINGS, "station": "T4"})),
    ("strike", "409"): Sent(content=document({**examples.STRIKE, "id": examples.BATCH})),
    ("closeLot", "200"): Sent(lot=CLOSED),
    ("closeLot", "201"): Sent(lot=TO_CLOSE),
    ("correctLot", "200"): Sent(lot=CLOSED),
    ("correctLot", "201"): Sent(lot=CLOSED, content=document({**examples.CORRECTION, "id": "C-2"})),
    ("showVerdict", "200"): Sent(lot=CLOSED),
    ("showJudgedEvidence", "200"): Sent(lot=CLOSED),
    ("replayVerdict", "200"): Sent(lot=CLOSED),
    **{(name, "200"): Sent(lot=CLOSED) for name in ("makeClaim", "showClaim", "showClaimEvidence", "settleClaim")},
    ("closeLot", "409"): Sent(lot=ALTERED),
    ("makeClaim", "409"): Sent(),
    ("makeClaim", "201"): Sent(lot=CLOSED, claim="R-NEW"),
    ("settleClaim", "201"): Sent(lot=CLOSED, claim="R-OPEN"),
    ("settleClaim", "409"): Sent(lot=CLOSED, content=document({**examples.SETTLEMENT, "settlement": "refused"})),
    ("grantConcession", "201"): Sent(concession="C-NEW"),
    ("grantConcession", "409"): Sent(content=document({**examples.CONCESSION, "reason": "Another."})),
    ("disposeOfLot", "201"): Sent(content=document({**examples.HOLD, "id": "D-NEW"})),
    ("disposeOfLot", "409"): Sent(content=document({**examples.HOLD, "disposition": "release"})),
    ("decideInspection", "200"): Sent(grade=SWITCHING),
    ("decideInspection", "201"): Sent(grade=SWITCHING, content=document({**TIGHTEN, "id": "QM-13"})),
    ("decideInspection", "409"): Sent(grade=SWITCHING, content=document({**examples.DECISION, "reason": "Another."})),
}
"""What leads to a status with one operation."""
OF_A_KEY = ("revokeKey", "200")
"""Where there is a key to revoke, a request without one is refused."""
CASES = [
    (name, status)
    for name, (_, _, operation) in OPERATIONS.items()
    for status in operation["responses"]
    if status not in PROVOKED_ELSEWHERE and (name, status) != OF_A_KEY
]


@pytest.fixture(scope="module")
def furnished(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The address of a service with revision 1 released, 2 and 3 drafts, 4 released."""
    folder = tmp_path_factory.mktemp("service")
    with service_in(folder, MAX_BODY=str(MOST_BYTES)) as address:
        assert 1 == released(address, examples.GRADE, examples.SPECIFICATION)
        for title in ("Two", "Three"):
            draft = {**examples.SPECIFICATION, "title": title}
            assert 201 == ask(address, "POST", f"/v1/grades/{examples.GRADE}/revisions", draft).status
        assert 4 == released(address, examples.GRADE, {**examples.SPECIFICATION, "title": "Four"})
        assert 201 == ask(address, "POST", "/v1/grades/TB-132/revisions", examples.SPECIFICATION).status
        furnish_lots(address)
        with closing(sqlite3.connect(folder / "grades.db")) as console:
            console.execute("UPDATE lots SET changes = changes + 1 WHERE lot = ?", (ALTERED,))
            console.commit()
        plan = {"plan": "code_letter", "table": "MIL-STD-105E", "letter": "F", "aql": 6.5}
        assert 1 == released(address, SWITCHING, look_grade(attributes(None, sample=plan)))
        for decision in (TIGHTEN, examples.DECISION):
            assert 201 == ask(address, "POST", f"/v1/grades/{SWITCHING}/switching/{examples.LINE}/override", decision).status
        assert 201 == ask(address, "PUT", f"/v1/instruments/{examples.INSTRUMENT}", examples.TESTER).status
        yield address


@pytest.fixture(scope="module")
def locked(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, Mapping[str, str]]]:
    """The address of a service that asks for keys, and a token for each scope."""
    folder = tmp_path_factory.mktemp("locked")
    run(folder, "migrate")
    tokens: Mapping[str, str] = {each.value: run(folder, "key", "add", each, "--scope", each).stdout.strip() for each in Scope}
    with service_in(folder) as address:
        yield address, tokens


def furnish_lots(address: str) -> None:
    """The example's lot with the example's batch, opened by revision 1, and one of another content."""
    opening = {**examples.OPENING, "revision": 1}
    lot = f"/v1/lots/{examples.LOT}"
    assert 201 == ask(address, "PUT", lot, opening).status
    for content in (examples.READINGS, {**examples.READINGS, "batch": "OTHER"}):
        assert 201 == ask(address, "POST", f"{lot}/readings", content).status
    assert 201 == ask(address, "PUT", f"/v1/lots/{BY_1}", opening).status
    assert 201 == ask(address, "PUT", f"/v1/lots/{AGAIN}", examples.OPENING).status
    for each in (CLOSED, TO_CLOSE, ALTERED):
        assert 201 == ask(address, "PUT", f"/v1/lots/{each}", opening).status
    closed = f"/v1/lots/{CLOSED}"
    bodies = {"readings": examples.READINGS, "close": {}, "corrections": examples.CORRECTION}
    for resource, content in bodies.items():
        assert 201 == ask(address, "POST", f"{closed}/{resource}", content).status
    for claim in (examples.CLAIM_NAME, "R-OPEN"):
        assert 201 == ask(address, "PUT", f"{closed}/claims/{claim}", examples.CLAIM).status
    settle = f"{closed}/claims/{examples.CLAIM_NAME}/settle"
    assert 201 == ask(address, "POST", settle, examples.SETTLEMENT).status
    recorded: dict[str, bytes] = {
        "attributes": document(examples.ATTRIBUTES),
        "strikes": document(examples.STRIKE),
    }
    named = examples.CONCESSION_NAME
    assert 201 == ask(address, "PUT", f"{lot}/concessions/{named}", examples.CONCESSION).status
    assert 201 == ask(address, "POST", f"{lot}/dispositions", examples.HOLD).status
    for resource, body in {**recorded, "revision": MOVE_TO_4}.items():
        assert 201 == ask(address, "POST", f"{lot}/{resource}", body).status


def answer_to(address: str, name: str, sent: Sent) -> Answered:
    """The answer to the operation's first example, changed in this way."""
    method, path, operation = OPERATIONS[name]
    named = {name: getattr(sent, name) for name in Sent._fields if name in NAMES}
    to = path.format(**NAMES | named) + sent.query
    shown = operation.get("requestBody", {}).get("content", {}).get("application/json", {}).get("examples", {})
    content = (
        sent.content
        if sent.content is not None
        else next((json.dumps(each["value"]).encode() for each in shown.values()), None)
    )
    return ask(address, method, to, content, {**JSON_TYPE, **sent.headers} if shown else sent.headers)


def resolved(part: dict[str, Any]) -> dict[str, Any]:
    """A part of the document, or the component that it names."""
    found: Any = part
    for step in part.get("$ref", "").removeprefix("#/").split("/") if "$ref" in part else ():
        found = DOCUMENT[step] if found is part else found[step]
    return dict(found)


def check_answer(name: str, answer: Answered) -> None:
    """The answer is one that the document says the operation has: by its status, type, shape and headers."""
    responses = OPERATIONS[name][2]["responses"]
    assert str(answer.status) in responses
    stated = resolved(responses[str(answer.status)])
    assert {header.lower() for header in stated["headers"]} - {"x-catalogue-stale"} <= set(answer.headers)
    if "content" not in stated:
        assert b"" == answer.body
        return
    media_type = answer.headers["content-type"].partition(";")[0]
    schema = stated["content"][media_type]["schema"]
    validator = jsonschema_rs.validator_for({**schema, "components": DOCUMENT["components"]})
    for said in documents_in(media_type, answer.body):
        validator.validate(said)


def test_the_service_gives_the_committed_document(furnished: str) -> None:
    """A client made from the file works with the service."""
    assert COMMITTED == ask(furnished, "GET", "/openapi.json").body.decode()


@pytest.mark.parametrize(("name", "status"), CASES, ids=str)
def test_every_status_that_is_documented_is_answered(furnished: str, name: str, status: str) -> None:
    """A client that handles what is documented handles what there is, and nothing for nothing."""
    fallen_back_to = OF_STATUS.get(status, Sent())
    answer = answer_to(furnished, name, OF_OPERATION.get((name, status), fallen_back_to))

    assert int(status) == answer.status, answer.body
    check_answer(name, answer)


@pytest.mark.parametrize("name", [name for name, (_, _, operation) in OPERATIONS.items() if operation["security"]])
def test_every_operation_with_a_scope_asks_for_a_key_that_has_it(locked: tuple[str, Mapping[str, str]], name: str) -> None:
    """Without one it is 401, with one for something else 403, and both say what is missing."""
    address, tokens = locked
    scope = OPERATIONS[name][2]["security"][0]["key"][0]
    other = next(each for each in Scope if each != scope)
    without = answer_to(address, name, Sent())
    lacking = answer_to(address, name, Sent(headers={"Authorization": f"Bearer {tokens[other]}"}))

    assert (401, 403) == (without.status, lacking.status)
    assert f"`{scope}`" in lacking.document["detail"]
    check_answer(name, without)
    check_answer(name, lacking)


def test_a_key_is_revoked(locked: tuple[str, Mapping[str, str]], tmp_path: Path) -> None:
    """The answer is the documented one, and the key is good no more."""
    address, tokens = locked
    administer = {"Authorization": f"Bearer {tokens[Scope.ADMINISTER]}"}
    key, token = tokens[Scope.DISPOSE][: len(NO_KEY)], {"Authorization": f"Bearer {tokens[Scope.DISPOSE]}"}
    before = ask(address, "GET", "/v1/grades", headers=token).status
    answer = answer_to(address, "revokeKey", Sent(key=key, headers=administer))
    after = ask(address, "GET", "/v1/grades", headers=token).status

    assert (403, 200, 401) == (before, answer.status, after)
    check_answer("revokeKey", answer)


@pytest.mark.parametrize("name", OPERATIONS)
def test_every_answer_is_documented(furnished: str, name: str) -> None:
    """Whatever is sent that leads to some status with one operation, sent to each of the others."""
    method, path, _ = OPERATIONS[name]
    for sent in OF_STATUS.values():
        if method == "GET" and sent.content is not None:
            continue
        check_answer(name, answer_to(furnished, name, sent._replace(grade="TB-132" if "{" in path else sent.grade)))


@pytest.mark.parametrize("path", DOCUMENT["paths"])
def test_a_path_takes_the_methods_that_are_documented_and_no_others(furnished: str, path: str) -> None:
    """OPTIONS tells the same, and HEAD goes with GET."""
    documented = {method.upper() for method in DOCUMENT["paths"][path]}
    told = ask(furnished, "OPTIONS", path.format(**NAMES)).headers["allow"].split(", ")
    refused = {"DELETE", "PATCH", "PUT", "POST", "GET"} - documented

    assert documented == set(told) - {"HEAD", "OPTIONS"}
    assert ("GET" in told) == ("HEAD" in told)
    for method in refused:
        assert 405 == ask(furnished, method, path.format(**NAMES)).status


def test_no_other_path_is_there(furnished: str) -> None:
    """What later releases bring is not there by half."""
    for path in (
        "/",
        "/v1",
        "/v1/lots/",
        "/v1/draws/1",
        "/v1/sampling-plans/1",
        "/v2/checks",
        "/v1/checks/",
        "/docs/../openapi.json",
    ):
        assert 404 == ask(furnished, "GET", path).status
