"""A line's history: whatever comes when, it is as if all had come at once in its order."""

from datetime import UTC, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from service.engine.documents import Inspection
from service.engine.switching import Decision, LineHistory, LotResults, Override, Subject, encoded_results
from service.engine.switching.following import Inspected, switching_history

MAJOR = Subject("class", "major")
START = datetime(2026, 11, 1, tzinfo=UTC)


def lot(number: int, verdict: int = 1, *, accepted: bool = True, inspection: Inspection = "normal") -> LotResults:
    """A lot that had its first verdict in the minute of its number."""
    inspected = Inspected(lot=f"L-{number}", inspection=inspection, accepted=accepted)
    return LotResults(START + timedelta(minutes=number), f"L-{number}", verdict, encoded_results({MAJOR: inspected}))


def decision(number: int, inspection: Inspection) -> Decision:
    """A decision between the lot of this number and the next."""
    override = Override(id=f"D-{number}", inspection=inspection, reason="New machine.")
    return Decision(START + timedelta(minutes=number, seconds=30), MAJOR, override)


def test_a_correction_counts_in_the_place_of_what_it_corrects() -> None:
    """The second of two rejected lots turns out to have been accepted: inspection was never to be tightened."""
    history = LineHistory()
    history.take([lot(1, accepted=False), lot(2, accepted=False), lot(3, inspection="tightened")])
    tightened = history.course(MAJOR)
    history.take([lot(2, verdict=2)])
    mended = history.course(MAJOR)

    assert ("tightened", 1, ["two-of-five-rejected"]) == (
        tightened.standing.state,
        tightened.standing.accepted_in_a_row,
        [each.code for each in tightened.switches],
    )
    assert ("normal", []) == (mended.standing.state, mended.switches)


def test_an_older_verdict_of_a_lot_does_not_come_back() -> None:
    """Two readers may read in one order and take in in another."""
    history = LineHistory()
    history.take([lot(1, verdict=2)])
    history.take([lot(1, accepted=False)])

    assert (True,) == history.course(MAJOR).standing.recent


EVENTS = st.lists(st.tuples(st.booleans(), st.sampled_from(["normal", "tightened", "reduced"])), min_size=1, max_size=400)


@given(EVENTS, st.randoms(use_true_random=False))
def test_the_order_in_which_it_comes_makes_no_difference(events: list[tuple[bool, Inspection]], chance: object) -> None:
    """A replica that reads now and then, and rereads, ends where one does that reads all at once."""
    made = [
        decision(number, inspection) if number % 7 == 6 else lot(number, accepted=accepted, inspection=inspection)
        for number, (accepted, inspection) in enumerate(events)
    ]
    plain = switching_history(
        event.override if isinstance(event, Decision) else Inspected(lot=event.lot, inspection=inspection, accepted=accepted)
        for event, (accepted, inspection) in zip(made, events, strict=True)
    )
    shuffled = [*made, *made[: len(made) // 2]]
    chance.shuffle(shuffled)  # type: ignore[attr-defined]
    history = LineHistory()
    for start in range(0, len(shuffled), 37):
        history.take(shuffled[start : start + 37])

    assert plain == history.course(MAJOR)
    assert len(made) == history.events
