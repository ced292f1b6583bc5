"""What is counted and logged of a request, part by part; over sockets see tests/faults/test_watched.py."""

import json
import logging
import os
import threading
from time import perf_counter

import httpx
import pytest
from msgspec import UNSET
from prometheus_client import CollectorRegistry
from prometheus_client.parser import text_string_to_metric_families

from service.api.exchanges import begin_exchange
from service.api.operations import Operation
from service.api.watching.judgements import OTHER, SENT_ALONG, JudgementCounter
from service.api.watching.logs import MOST_AT_ONCE, NAME, QueuedLineHandler, error_text
from service.api.watching.recording import RequestRecorder
from service.api.watching.tracing import trace_of
from service.ports.catalogue import CatalogueAwayError
from tests.support import examples

TRACE, PARENT = "4bf92f3577b34da6a3ce929d0e0e4736", "00f067aa0ba902b7"
"""The example of W3C Trace Context, 3.2."""
Figures = dict[tuple[str, frozenset[tuple[str, str]]], float]


def record(text: str = "something") -> logging.LogRecord:
    """An event to log."""
    return logging.LogRecord(NAME, logging.INFO, "", 0, text, None, None)


async def figures_of(client: httpx.AsyncClient) -> Figures:
    """Each figure by its name and labels, as a collector reads them."""
    text = (await client.get("/metrics")).text
    families = text_string_to_metric_families(text)
    return {(each.name, frozenset(each.labels.items())): each.value for family in families for each in family.samples}


def of(figures: Figures, name: str, **labels: str) -> float:
    """One figure."""
    return figures[name, frozenset(labels.items())]


@pytest.mark.parametrize("given", [f"00-{TRACE}-{PARENT}-01", f"00-{TRACE}-{PARENT}-00", f"01-{TRACE}-{PARENT}-01-more"])
def test_a_well_formed_trace_is_taken_over(given: str) -> None:
    """Whoever follows a lot through a mill's services finds this one's lines under the same id."""
    assert TRACE == trace_of(given)


@pytest.mark.parametrize(
    "given",
    [
        "",
        "nothing",
        f"00-{TRACE.upper()}-{PARENT}-01",
        f"00-{'0' * 32}-{PARENT}-01",
        f"00-{TRACE}-{'0' * 16}-01",
        f"ff-{TRACE}-{PARENT}-01",
        f"00-{TRACE}-{PARENT}-01-more",
        f"00-{TRACE}-{PARENT}-01\n",
        f"00-{TRACE}-{PARENT}-1",
        f"01-{TRACE}-{PARENT}-01more",
    ],
)
def test_any_other_trace_is_replaced_by_one_of_our_own(given: str) -> None:
    """W3C Trace Context, 3.2.2: what can't be parsed is not passed on, and the line has an id all the same."""
    made = trace_of(given)

    assert (32, True) == (len(made), made != TRACE)
    assert made != trace_of(given)
    assert int(made, 16)


def test_lines_come_out_whole_and_in_order() -> None:
    """A collector reads the story as it went."""
    reading, writing = os.pipe()
    handler = QueuedLineHandler(writing)
    for number in range(100):
        handler.emit(record(f"event {number}"))
    handler.flush()
    os.close(writing)
    with os.fdopen(reading) as read:
        assert [f"event {number}" for number in range(100)] == [json.loads(line)["what"] for line in read]
    assert 0 == handler.dropped


def test_lines_after_a_flush_come_out_too() -> None:
    """The thread that writes rests in between, and a line that came while it rests or waits must not be forgotten."""
    reading, writing = os.pipe()
    handler = QueuedLineHandler(writing)
    with os.fdopen(reading) as read:
        for number in range(3):
            handler.emit(record(f"event {number}"))
            handler.flush()
            handler.flush()
            # No flush hurries this one: it comes by itself.
            handler.emit(record(f"unhurried {number}"))
            assert [f"event {number}", f"unhurried {number}"] == [json.loads(read.readline())["what"] for _ in range(2)]
    os.close(writing)


def test_a_log_that_nobody_reads_holds_nobody_up() -> None:
    """Past the bound lines are dropped and counted, and whoever logs goes on."""
    reading, writing = os.pipe()
    handler = QueuedLineHandler(writing, most=100)
    for _ in range(1000):
        handler.emit(record("x" * 999))
    # A pipe takes 64 KiB, less than 66 lines of 1,000 bytes, some are being written, and a hundred lines may wait.
    assert 1000 - 66 - MOST_AT_ONCE - 100 <= handler.dropped <= 1000 - 100
    drained = threading.Thread(target=lambda: [None for _ in iter(lambda: os.read(reading, 65536), b"")])
    drained.start()
    handler.flush()
    os.close(writing)
    drained.join()
    os.close(reading)


def test_a_log_that_was_hung_up_on_is_counted() -> None:
    """A collector that ended is seen in the figures, and in nothing that a caller notices."""
    reading, writing = os.pipe()
    os.close(reading)
    handler = QueuedLineHandler(writing)
    handler.emit(record())
    handler.flush()
    os.close(writing)

    assert 1 == handler.dropped


def test_an_error_tells_no_password_and_no_key() -> None:
    """Drivers quote in their messages what they were given, and logs are read by more people than may know a password."""
    secrets = "postgresql://mill:s3cr:et@db.example/grades refused mky_1a2b3c4d_" + "Ab-_" * 10
    text = error_text(RuntimeError(secrets))

    assert "postgresql://(hidden)@db.example/grades refused (hidden)" in text
    assert "s3cr" not in text
    assert "Ab-_" not in text


def test_a_database_that_is_away_is_told_in_one_sentence() -> None:
    """Each request meets it while it lasts, and a traceback each would bury the rest."""
    error = CatalogueAwayError("for the caller")
    error.__cause__ = OSError("nobody listens")

    assert "OSError: nobody listens" == error_text(error)


def test_seconds_are_counted_up_to_each_end() -> None:
    """As Prometheus reads them: inclusive and cumulative, and all in `+Inf`; refusals apart."""
    registry = CollectorRegistry()
    watch, operation = RequestRecorder(registry), Operation(name="do", tag="", summary="", description="", scope=None)
    for status, seconds in ((200, 0.0004), (201, 0.002), (404, 99.0), (503, 0.2)):
        exchange = begin_exchange("GET")
        exchange.status, exchange.started = status, perf_counter() - seconds
        exchange.operation = operation
        watch.record_answer(exchange)

    def up_to(outcome: str, end: str) -> float | None:
        labels = {"operation": "do", "outcome": outcome, "le": end}
        return registry.get_sample_value("markeryarn_answer_seconds_bucket", labels)

    answers = [
        registry.get_sample_value("markeryarn_answers_total", {"operation": "do", "status": str(status)})
        for status in (200, 503)
    ]
    assert [1, 1] == answers
    assert (1, 2, 2) == tuple(up_to("answered", end) for end in ("0.001", "0.005", "+Inf"))
    assert (0, 1) == tuple(up_to("refused", end) for end in ("10.0", "+Inf"))
    assert (0, 1) == tuple(up_to("failed", end) for end in ("0.1", "0.25"))


def test_grades_past_the_bound_are_counted_together() -> None:
    """Each row is kept by the collector for ever; a mill with very many grades still gets a page it can read."""
    registry = CollectorRegistry()
    judged = JudgementCounter(registry, most_grades=2)
    for grade in ("A", "B", "C", "D", "A", "C"):
        judged.count("checks", grade, "pass")
    judged.count("verdicts", UNSET, "fail")
    counted = {
        (each.labels["of"], each.labels["grade"], each.labels["outcome"]): each.value
        for family in registry.collect()
        for each in family.samples
        if each.name.endswith("_total")
    }

    assert {
        ("checks", OTHER, "pass"): 3,
        ("checks", "A", "pass"): 2,
        ("checks", "B", "pass"): 1,
        ("verdicts", SENT_ALONG, "fail"): 1,
    } == counted


async def test_the_page_of_figures_tells_what_was_done(released: httpx.AsyncClient) -> None:
    """Verdicts by grade and outcome, refusals by code, and what is in memory."""
    for _ in range(3):
        assert 200 == (await released.post("/v1/checks", json=examples.CHECK)).status_code
    assert 422 == (await released.post("/v1/checks", json={**examples.CHECK, "grade": "MADE-UP"})).status_code
    assert 404 == (await released.get("/nowhere")).status_code
    figures = await figures_of(released)

    assert 3 == of(figures, "markeryarn_answers_total", operation="checkReading", status="200")
    assert 3 == of(figures, "markeryarn_answer_seconds_count", operation="checkReading", outcome="answered")
    assert 1 == of(figures, "markeryarn_answer_seconds_count", operation="checkReading", outcome="refused")
    assert 1 == of(figures, "markeryarn_refusals_total", code="unknown-grade")
    assert 1 == of(figures, "markeryarn_refusals_total", code="not-found")
    assert 1 == of(figures, "markeryarn_in_flight")
    assert (1, 1) == (of(figures, "markeryarn_shelf_grades"), of(figures, "markeryarn_catalogue_version"))
    assert (0, 5) == (of(figures, "markeryarn_connections_in_use"), of(figures, "markeryarn_connections_most"))
    assert 3 == sum(
        number for (name, labels), number in figures.items() if name == "markeryarn_judged_total" and ("of", "checks") in labels
    )


async def test_made_up_grades_make_no_rows(released: httpx.AsyncClient) -> None:
    """Anyone may send 10,000 names; a collector that kept a row for each would fall over."""
    before = len(await figures_of(released))
    for number in range(200):
        await released.post("/v1/checks", json={**examples.CHECK, "grade": f"MADE-UP-{number}"})
    after = await figures_of(released)

    # Of the refusals and of the page itself: a count, and a histogram of 15 ends, sum and number; and one code of refusal.
    assert len(after) - before <= 2 * (1 + 17) + 1
    assert not any("MADE-UP" in value for _, labels in after for _, value in labels)
