"""Switching: sequences of lots worked by hand from the text of MIL-STD-105E, 4.7 and 4.8 (read in a transcription, SEEN)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.engine.documents import Flaw, Inspection
from service.engine.switching import Override, State, override_flaws
from service.engine.switching.following import Inspected, SwitchingState, switching_history

SHORT: dict[str, Inspection] = {"n": "normal", "t": "tightened", "r": "reduced"}


def lots(inspection: Inspection, outcomes: str) -> list[Inspected | Override]:
    """Lots under this inspection: `+` accepted, `-` not, `~` accepted in the gap, `=` a rejected one that was resubmitted."""
    return [
        Inspected(lot=f"L-{number}", inspection=inspection, accepted=each in "+~", in_gap=each == "~", resubmitted=each == "=")
        for number, each in enumerate(outcomes, 1)
    ]


def decided(inspection: Inspection) -> list[Inspected | Override]:
    """A manager's decision."""
    return [Override(id="o-1", inspection=inspection, reason="New machine.")]


@pytest.mark.parametrize(
    ("outcomes", "state"),
    [
        ("", "normal"),
        ("-", "normal"),
        ("--", "tightened"),
        ("-+-", "tightened"),
        ("-+++-", "tightened"),
        ("-++++-", "normal"),
        ("-++++-++++-", "normal"),
        ("-++++-+++-", "tightened"),
        ("-=", "normal"),
        ("-====-", "tightened"),
    ],
)
def test_two_of_five_lots_not_accepted_tighten(outcomes: str, state: State) -> None:
    """4.7.1: 2 out of 2, 3, 4 or 5 consecutive lots, those inspected again left aside."""
    assert state == switching_history(lots("normal", outcomes)).standing.state


@pytest.mark.parametrize(
    ("outcomes", "state"),
    [
        ("+++++", "normal"),
        ("++++", "tightened"),
        ("++++-+++++", "normal"),
        ("++++-++++", "tightened"),
        ("++++=+", "normal"),
        ("-----", "discontinued"),
        ("----", "tightened"),
        ("-++-+-++++-+-", "discontinued"),
        ("-++-+-++++-+++++", "normal"),
    ],
)
def test_tightened_inspection_ends_with_five_accepted_or_five_not(outcomes: str, state: State) -> None:
    """4.7.2: 5 consecutive lots accepted; 4.8: 5 not accepted in all while it lasts, those between them notwithstanding."""
    assert state == switching_history(lots("tightened", outcomes), SwitchingState(state="tightened")).standing.state


def test_what_was_rejected_before_counts_anew_after_a_return() -> None:
    """4.7.1 goes by lots under normal inspection: two of the first phase and one of the second tighten nothing."""
    history = [*lots("normal", "--"), *lots("tightened", "+++++"), *lots("normal", "-")]

    assert "normal" == switching_history(history).standing.state
    assert "tightened" == switching_history([*history, *lots("normal", "-")]).standing.state


@pytest.mark.parametrize(("outcomes", "state"), [("+" * 20, "reduced"), ("+-", "normal"), ("+~", "normal"), ("=", "reduced")])
def test_reduced_inspection_ends_with_the_first_lot_not_plainly_accepted(outcomes: str, state: State) -> None:
    """4.7.4 a and b: rejected, or accepted between the plan's numbers."""
    assert state == switching_history([*decided("reduced"), *lots("reduced", outcomes)]).standing.state


def test_reduced_inspection_never_begins_by_itself() -> None:
    """4.7.3 asks for more than counts can tell; the lots accepted in a row are counted for who decides."""
    standing = switching_history(lots("normal", "-" + "+" * 12)).standing

    assert ("normal", 12) == (standing.state, standing.accepted_in_a_row)


def test_each_switch_says_why() -> None:
    """Whoever asks in two years why the line was tightened gets the lot and the rule."""
    history = [*lots("normal", "-+-"), *lots("tightened", "-----"), *decided("tightened"), *lots("tightened", "+++++")]

    assert [
        ("normal", "tightened", "two-of-five-rejected", "L-3"),
        ("tightened", "discontinued", "discontinued", "L-5"),
        ("discontinued", "tightened", "decided", "o-1"),
        ("tightened", "normal", "five-accepted", "L-5"),
    ] == [(each.from_, each.to, each.code, each.lot or each.override) for each in switching_history(history).switches]
    assert [
        "2 of the last 3 lots under normal inspection were not accepted: inspection is tightened.",
        "5 lots under tightened inspection were not accepted: acceptance stops until the cause is corrected.",
        "It was decided that inspection is tightened: New machine.",
        "5 lots in a row were accepted under tightened inspection: inspection is normal again.",
    ] == [each.text for each in switching_history(history).switches]


@pytest.mark.parametrize(
    ("outcomes", "code", "text"),
    [
        ("-", "reduced-rejected", "A lot under reduced inspection was not accepted: inspection is normal again."),
        (
            "~",
            "reduced-in-gap",
            "A lot under reduced inspection was accepted above the accept number: inspection is normal again.",
        ),
    ],
)
def test_the_end_of_reduced_inspection_says_why(outcomes: str, code: str, text: str) -> None:
    """A rejected lot and one in the gap are told apart."""
    switch = switching_history(lots("reduced", outcomes), SwitchingState(state="reduced")).switches[0]

    assert (code, text) == (switch.code, switch.text)


def test_lots_under_way_at_a_switch_do_not_count() -> None:
    """Three lots were drawn as normal; the third is judged after the first two have tightened inspection."""
    assert SwitchingState(state="tightened") == switching_history(lots("normal", "---")).standing


def test_after_a_stop_nothing_counts_until_somebody_decides() -> None:
    """4.8: not resumed before corrective action, and then tightened."""
    stopped = SwitchingState(state="discontinued")

    assert stopped == switching_history(lots("tightened", "+++++"), stopped).standing
    assert "tightened" == stopped.next_inspection
    assert ["resume-tightened"] == [flaw.code for flaw in override_flaws(stopped, "normal", "/inspection")]
    assert [] == list(override_flaws(stopped, "tightened", "/inspection"))


TEN = "Reduced inspection needs 10 lots in a row accepted under normal inspection, and "


@pytest.mark.parametrize(
    ("history", "lacks"),
    [
        ([], "there are none so far. Decide again after 10 lots more."),
        (lots("normal", "+"), "there is 1 so far. Decide again after 9 lots more."),
        (lots("normal", "+++++++++"), "there are 9 so far. Decide again after 1 lot more."),
        (lots("normal", "++++++++++++-"), "there are none so far. Decide again after 10 lots more."),
        (lots("normal", "+++++++++=="), "there are 9 so far. Decide again after 1 lot more."),
        (
            [*lots("normal", "--"), *lots("tightened", "++++")],
            "inspection is tightened. Decide when it is normal again and they are accepted.",
        ),
        (
            [*lots("normal", "--"), *lots("tightened", "+++++"), *lots("normal", "+++++")],
            "there are 5 so far. Decide again after 5 lots more.",
        ),
    ],
)
def test_reduced_inspection_takes_ten_lots_accepted_under_normal(history: list[Inspected | Override], lacks: str) -> None:
    """4.7.3 a; lots accepted while inspection was tightened are not among them."""
    assert [Flaw("reduced-too-early", TEN + lacks, "/inspection")] == list(
        override_flaws(switching_history(history).standing, "reduced", "/inspection")
    )


@pytest.mark.parametrize("outcomes", ["+" * 10, "-" + "+" * 12, "+++++==+++++"])
def test_after_ten_accepted_lots_reduced_inspection_may_be_decided(outcomes: str) -> None:
    """Lots that are presented again are passed over: 4.7.3 a is of original inspection."""
    assert [] == list(override_flaws(switching_history(lots("normal", outcomes)).standing, "reduced", "/inspection"))


def test_a_decision_that_was_taken_before_the_rule_is_followed() -> None:
    """What is on record is not undone: a line was put under reduced inspection with no lot at all."""
    assert "reduced" == switching_history(decided("reduced")).standing.state


def test_deciding_what_is_so_already_is_told() -> None:
    """It would leave a decision on record that changed nothing, and its counts stand."""
    standing = switching_history([*lots("normal", "-+"), *decided("normal")]).standing

    assert (False, True) == standing.recent
    assert ["inspection-in-effect"] == [flaw.code for flaw in override_flaws(standing, "normal", "/inspection")]


def slowly(history: list[tuple[str, bool]]) -> str:
    """The state after these (state under which it was inspected, accepted), by looking back over all lots each time."""
    state, since = "n", list[bool]()
    for under, accepted in history:
        if under != state:
            continue
        since.append(accepted)
        windows = [since[start : start + 5] for start in range(len(since))]
        if state == "n" and any(window.count(False) >= 2 for window in windows):
            state, since = "t", []
        elif state == "t" and len(since) >= 5 and all(since[-5:]):
            state, since = "n", []
        elif state == "t" and since.count(False) == 5:
            state, since = "d", []
    return state


@given(st.lists(st.tuples(st.sampled_from("nt"), st.booleans()), max_size=60))
def test_it_agrees_with_looking_back_over_all_lots(history: list[tuple[str, bool]]) -> None:
    """Counters carried from lot to lot forget nothing that matters."""
    events: list[Inspected | Override] = [
        Inspected(lot="L", inspection=SHORT[under], accepted=accepted) for under, accepted in history
    ]

    assert slowly(history) == switching_history(events).standing.state[0]
