"""A mill that works on while its service fails: careful clients, each of which repeats a step until it is acknowledged."""

import http.client
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from itertools import count
from typing import Any, NamedTuple

from tests.faults.talking import Heard, told_to_come_again
from tests.support.grades import FORCE, Document, fixed, grade, mean
from tests.support.servers import SECONDS_TO_END
from tests.support.services import Answered, ask

GRADE = "TB-5"
SPECIFICATION: Document = grade(mean(lower=1400), of={**FORCE, "sample": fixed(5)})
CLIENTS = 4
BETWEEN_TRIES_S = 0.02
READINGS, STRUCK, VERDICTS = 7, 2, 3
"""Of a whole lot: how many readings, how many of them are struck, and how many verdicts."""


class Step(NamedTuple):
    """One request below a lot's path; it may be sent any number of times."""

    name: str
    method: str
    path: str
    body: object
    media_type: str = "application/json"


FORCES = {"characteristic": "breaking_force", "unit": "N"}
FIRST = ["/series/0/values/0"]
STORY: Sequence[Step] = (
    Step("open", "PUT", "", {"grade": GRADE, "size": 480}),
    Step("json", "POST", "/readings", {"batch": "J", "series": [{**FORCES, "values": [15, 1500, 1450]}]}),
    Step(
        "ndjson",
        "POST",
        "/readings?batch=N",
        b'{"characteristic":"breaking_force","unit":"N","value":1420}\n'
        b'{"characteristic":"breaking_force","unit":"N","value":1430}\n',
        "application/x-ndjson",
    ),
    Step("strike", "POST", "/strikes", {"id": "S", "of": "J", "at": FIRST, "reason": "The specimen slipped."}),
    Step("close", "POST", "/close", {}),
    Step("csv", "POST", "/readings?batch=C", b"characteristic,unit,value\nbreaking_force,N,1400\n", "text/csv"),
    Step(
        "correct",
        "POST",
        "/corrections",
        {"id": "K", "reason": "Read again.", "strikes": [{"of": "C", "at": FIRST}], "series": [{**FORCES, "values": [1410]}]},
    ),
    Step("dispose", "POST", "/dispositions", {"id": "D", "disposition": "hold", "reason": "For the buyer's inspector."}),
)
"""What becomes of a lot: closed too early it waits, is closed by its last reading, corrected, and held back."""


class Acknowledged(NamedTuple):
    """A step that was answered as done."""

    lot: str
    step: Step
    answer: Answered


class Mill:
    """Clients at work on lots of their own, or on the same ones through several services."""

    def __init__(self, *addresses: str, name: str = "L", may_hang_up: bool = True) -> None:
        """Work through these addresses, one after the other in turn; `may_hang_up` where a service may be killed."""
        self.addresses = list(addresses)
        self.acknowledged: list[Acknowledged] = []
        self.wrong: list[str] = []
        """Answers that none should get."""
        self.cut_short = 0
        """Requests that were sent and never answered."""
        self._name, self._may_hang_up = name, may_hang_up
        self._threads: list[threading.Thread] = []
        self._ended = threading.Event()
        self._more = threading.Condition()

    @contextmanager
    def at_work(self, clients: int = CLIENTS) -> Iterator[None]:
        """Work while the body runs; a client ends by finishing its step."""
        self._threads = [threading.Thread(target=self._work, args=(number,)) for number in range(clients)]
        for thread in self._threads:
            thread.start()
        try:
            yield
        finally:
            self.end()

    def end(self) -> None:
        """Finish the steps that are under way, and nothing more."""
        self._ended.set()
        for thread in self._threads:
            thread.join(SECONDS_TO_END)
        assert not any(thread.is_alive() for thread in self._threads)

    def wait_for_more(self, steps: int) -> None:
        """Until so many more steps are acknowledged."""
        with self._more:
            wanted = len(self.acknowledged) + steps
            assert self._more.wait_for(lambda: len(self.acknowledged) >= wanted, SECONDS_TO_END + steps), self.wrong

    def _work(self, client: int) -> None:
        for number in count():
            lot = f"{self._name}{client}-{number}"
            for step in STORY:
                if self._ended.is_set() or not self._done(lot, step, client):
                    return

    def _done(self, lot: str, step: Step, client: int) -> bool:
        """Repeat until it is acknowledged; False where there was an answer that none should get, or all is over."""
        until = time.monotonic() + SECONDS_TO_END
        for attempt in count(client):
            try:
                answer = sent(self.addresses[attempt % len(self.addresses)], lot, step)
            except (OSError, http.client.HTTPException) as error:
                self.cut_short += not isinstance(error, ConnectionRefusedError)
                if not self._may_hang_up or time.monotonic() > until:
                    self.wrong.append(f"{step.name} of {lot}: {error!r}")
                    return False
            else:
                if answer.status in (200, 201):
                    with self._more:
                        self.acknowledged.append(Acknowledged(lot, step, answer))
                        self._more.notify_all()
                    return True
                if not told_to_come_again(Heard(*answer)):
                    self.wrong.append(f"{step.name} of {lot}: {answer.status} {answer.body.decode()}")
                    return False
            time.sleep(BETWEEN_TRIES_S)
        raise AssertionError


def sent(address: str, lot: str, step: Step) -> Answered:
    """The answer to a step."""
    return ask(address, step.method, f"/v1/lots/{lot}{step.path}", step.body, {"Content-Type": step.media_type})


def check_kept(address: str, acknowledged: Sequence[Acknowledged]) -> None:
    """Everything that was acknowledged is there, once, as it was told."""
    for lot, step, told in acknowledged:
        again = sent(address, lot, step)
        assert (lot, step.name, 200) == (lot, step.name, again.status)
        _CHECKS.get(step.name, _is_told_alike)(address, told, again)
    whole = {lot for lot, step, _ in acknowledged if step is STORY[-1]}
    for lot in whole:
        shown = ask(address, "GET", f"/v1/lots/{lot}").document
        changes = ask(address, "GET", f"/v1/lots/{lot}/changes").document["changes"]
        ids = [each["id"] for each in changes]
        assert [{"characteristic": "breaking_force", "readings": READINGS, "struck": STRUCK}] == shown["readings"]
        assert ("closed", "pass", VERDICTS, "hold") == tuple(
            shown[name] for name in ("state", "outcome", "verdicts", "disposition")
        )
        for number in range(1, VERDICTS + 1):
            assert ask(address, "POST", f"/v1/lots/{lot}/verdicts/{number}/replay", {}).document["agrees"]
        assert sorted(set(ids)) == sorted(ids)
        assert list(range(1, len(changes) + 1)) == [each["number"] for each in changes]


def _is_told_alike(_: str, told: Answered, again: Answered) -> None:
    """The same change by the same number."""
    assert _number(told.document) == _number(again.document)


def _verdict_is_kept(address: str, told: Answered, _: Answered) -> None:
    """The verdict that was answered is there for ever, byte for byte."""
    document = told.document
    kept = ask(address, "GET", f"/v1/lots/{document['lot']}/verdicts/{document['number']}")
    assert told.body == kept.body


def _number(document: Any) -> object:
    return document.get("change", document.get("number", document.get("lot")))


_CHECKS: dict[str, Callable[[str, Answered, Answered], None]] = {"close": _verdict_is_kept, "correct": _verdict_is_kept}
