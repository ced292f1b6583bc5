"""The switching rules: the lots of a line in their order → the inspection in effect, and each switch with its reason.

Source: MIL-STD-105E, 4.7.1 to 4.7.4 and 4.8, read in a transcription of the text; each rule is cited where it is applied. The
limit numbers of its Table VIII, which 4.7.3 b requires, were found in no source that could be checked, and whether production
is steady (4.7.3 c) cannot be decided from counts. So only a manager starts reduced inspection, and only after enough lots in a
row were accepted (4.7.3 a).
"""

from collections.abc import Iterable, Iterator
from typing import Literal

from msgspec import UNSET, Struct, UnsetType, field

from service.engine.documents import Flaw, Inspection, counted

State = Literal["normal", "tightened", "reduced", "discontinued"]
WINDOW = 5
"""Number of consecutive lots under normal inspection in which rejected ones are counted. (4.7.1)"""
REJECTED_TO_TIGHTEN = 2
"""Number of rejected lots among those of `WINDOW` that starts tightened inspection. (4.7.1)"""
ACCEPTED_TO_NORMAL = 5
"""Number of consecutive lots accepted under tightened inspection that restores normal inspection. (4.7.2)"""
ACCEPTED_TO_REDUCE = 10
"""Number of consecutive lots accepted under normal inspection that allows reduced inspection. (4.7.3 a)"""
REJECTED_TO_STOP = 5
"""Total number of lots not accepted under one period of tightened inspection that discontinues acceptance. (4.8)"""


class Inspected(Struct, frozen=True, kw_only=True):
    """The inspection result of one class of one lot."""

    lot: str
    inspection: Inspection
    """The severity under which the lot was inspected."""
    accepted: bool
    """True where original inspection accepted it; a retest does not count."""
    in_gap: bool = False
    """True where a reduced plan accepted it above its acceptance number and below its rejection number."""
    resubmitted: bool = False


class Override(Struct, frozen=True, kw_only=True):
    """A manager's decision on the inspection of the next lots, or to resume acceptance."""

    id: str
    inspection: Inspection
    reason: str


class SwitchingState(Struct, frozen=True, kw_only=True):
    """The state of a class after a lot: the inspection in effect, and the counts towards the next switch."""

    state: State = "normal"
    recent: tuple[bool, ...] = ()
    """Whether each of the last lots, at most five, was accepted, since normal inspection is in effect; else empty."""
    accepted_in_a_row: int = 0
    """Number of lots accepted in a row under the inspection in effect."""
    rejected: int = 0
    """Number of lots rejected since tightened inspection is in effect."""

    @property
    def next_inspection(self) -> Inspection:
        """The inspection of the next lot; `tightened` while acceptance is discontinued, since it resumes under that (4.8)."""
        return next_inspection(self.state)


class Switch(Struct, frozen=True, kw_only=True):
    """One change of the inspection in effect, and its reason."""

    from_: State = field(name="from")
    to: State
    code: str
    text: str
    lot: str | UnsetType = UNSET
    """The lot whose result caused it; left out for a decision."""
    override: str | UnsetType = UNSET
    """Id of the decision that caused it; left out for a lot."""


class SwitchingHistory(Struct, frozen=True, kw_only=True):
    """The history of a class: its current state, and all switches in their order."""

    standing: SwitchingState
    switches: list[Switch]


def switching_history(events: Iterable[Inspected | Override], start: SwitchingState | None = None) -> SwitchingHistory:
    """The state of a class after these lots and decisions, in their order, and the switches on the way.

    start  the state before the first event; normal inspection where left out (from memory)

    These lots count towards no switch: resubmitted ones, since 4.7.1 requires original inspection; ones inspected under another
    severity than the one in effect in their turn, as when several lots are in progress at a switch; and all lots after
    acceptance was discontinued.
    """
    standing, switches = start or SwitchingState(), list[Switch]()
    for event in events:
        before = standing.state
        if isinstance(event, Override):
            standing = _after_decision(standing, event)
            switches += [_switch_by_decision(before, event)] if standing.state != before else []
        elif not event.resubmitted and event.inspection == before:
            # No lot is inspected under `discontinued`, so while that is the state no lot is counted.
            counted_state = _with_lot(standing, event)
            standing = _after_rules(counted_state, event)
            switches += [_switch_by_rule(counted_state, standing.state, event)] if standing.state != before else []
    return SwitchingHistory(standing=standing, switches=switches)


def next_inspection(state: State) -> Inspection:
    """The inspection of a lot in this state."""
    return "tightened" if state == "discontinued" else state


def override_flaws(standing: SwitchingState, inspection: Inspection, at: str) -> Iterator[Flaw]:
    """The flaws of a decision for this inspection.

    Acceptance that was discontinued resumes under tightened inspection (4.8); reduced inspection follows normal only (4.7.3).
    """
    # Checked as a decision is taken, not in `switching_history`: decisions recorded by earlier releases stay in effect.
    if standing.state == "discontinued" and inspection != "tightened":
        text = (
            "Acceptance was discontinued, and it resumes under tightened inspection after corrective action. Write `tightened`."
        )
        yield Flaw("resume-tightened", text, at)
    elif standing.state == inspection:
        yield Flaw("inspection-in-effect", f"The inspection is already {inspection}. There is nothing to decide.", at)
    elif inspection == "reduced" and (lacking := _lacking_for_reduced(standing)):
        first = f"Reduced inspection needs {ACCEPTED_TO_REDUCE} lots in a row accepted under normal inspection"
        yield Flaw("reduced-too-early", f"{first}, {lacking}", at)


def _lacking_for_reduced(standing: SwitchingState) -> str:
    """The end of a sentence on what reduced inspection still requires; empty where it requires nothing more."""
    if standing.state != "normal":
        return f"and inspection is {standing.state}. Decide when it is normal again and they are accepted."
    more = ACCEPTED_TO_REDUCE - standing.accepted_in_a_row
    if more <= 0:
        return ""
    number = standing.accepted_in_a_row
    return (
        f"and there {'is' if number == 1 else 'are'} {number or 'none'} so far. Decide again after {counted(more, 'lot')} more."
    )


def _after_decision(standing: SwitchingState, decision: Override) -> SwitchingState:
    """The state after a decision: all counts start again, unless the decision changes nothing."""
    return standing if standing.state == decision.inspection else SwitchingState(state=decision.inspection)


def _with_lot(standing: SwitchingState, lot: Inspected) -> SwitchingState:
    """The state with the lot counted, before any switch."""
    is_normal, is_tightened = standing.state == "normal", standing.state == "tightened"
    return SwitchingState(
        state=standing.state,
        # 4.7.1 counts two of 2, 3, 4 or 5 consecutive lots, so the window need not be full.
        recent=(*standing.recent, lot.accepted)[-WINDOW:] if is_normal else (),
        accepted_in_a_row=standing.accepted_in_a_row + 1 if lot.accepted else 0,
        rejected=standing.rejected + 1 if is_tightened and not lot.accepted else standing.rejected,
    )


def _after_rules(standing: SwitchingState, lot: Inspected) -> SwitchingState:
    """The state after the rules: unchanged, or another one in which all counts start again."""
    to: State = standing.state
    match standing.state:
        case "normal" if standing.recent.count(False) >= REJECTED_TO_TIGHTEN:
            to = "tightened"
        case "tightened" if standing.accepted_in_a_row >= ACCEPTED_TO_NORMAL:
            to = "normal"
        case "tightened" if standing.rejected >= REJECTED_TO_STOP:
            to = "discontinued"
        case "reduced" if not lot.accepted or lot.in_gap:
            to = "normal"  # 4.7.4 a and b; c and d are left to a manager, since no count shows them.
        case _:
            return standing
    return SwitchingState(state=to)


def _switch_by_rule(before: SwitchingState, to: State, lot: Inspected) -> Switch:
    """The switch that a lot's result caused; `before` has the lot counted."""
    if to == "tightened":
        of = f"{before.recent.count(False)} of the last {counted(len(before.recent), 'lot')}"
        code, text = "two-of-five-rejected", f"{of} under normal inspection were not accepted: inspection is tightened."
    elif to == "discontinued":
        text = (
            f"{before.rejected} lots under tightened inspection were not accepted: acceptance stops until the cause is "
            "corrected."
        )
        code = "discontinued"
    elif before.state == "tightened":
        text = f"{before.accepted_in_a_row} lots in a row were accepted under tightened inspection: inspection is normal again."
        code = "five-accepted"
    elif lot.accepted:
        text = "A lot under reduced inspection was accepted above the accept number: inspection is normal again."
        code = "reduced-in-gap"
    else:
        code, text = "reduced-rejected", "A lot under reduced inspection was not accepted: inspection is normal again."
    return Switch(from_=before.state, to=to, code=code, text=text, lot=lot.lot)


def _switch_by_decision(before: State, decision: Override) -> Switch:
    """The switch that a manager's decision caused."""
    text = f"It was decided that inspection is {decision.inspection}: {decision.reason}"
    return Switch(from_=before, to=decision.inspection, code="decided", text=text, override=decision.id)
