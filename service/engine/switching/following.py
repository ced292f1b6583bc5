"""The switching rules: from the lots of a line, in their order, to the inspection in effect and why it is.

Source: MIL-STD-105E, 4.7.1 to 4.7.4 and 4.8, read in a transcription of the text; the rule stands beside each. The limit
numbers of its Table VIII, which 4.7.3 b asks for, were found in no source that could be checked, and whether production is
steady (4.7.3 c) no count can tell. So reduced inspection is begun by a manager alone, and only once the lots accepted in a row
allow it (4.7.3 a).
"""

from collections.abc import Iterable, Iterator
from typing import Literal

from msgspec import UNSET, Struct, UnsetType, field

from service.engine.documents import Flaw, Inspection, counted

State = Literal["normal", "tightened", "reduced", "discontinued"]
WINDOW = 5
"""Of so many consecutive lots under normal inspection … (4.7.1)"""
REJECTED_TO_TIGHTEN = 2
"""… so many rejected bring tightened inspection. (4.7.1)"""
ACCEPTED_TO_NORMAL = 5
"""So many consecutive lots accepted under tightened inspection bring back normal. (4.7.2)"""
ACCEPTED_TO_REDUCE = 10
"""So many consecutive lots accepted under normal inspection allow reduced inspection. (4.7.3 a)"""
REJECTED_TO_STOP = 5
"""So many lots in all not accepted in a sequence under tightened inspection end acceptance. (4.8)"""


class Inspected(Struct, frozen=True, kw_only=True):
    """What became of one class of one lot."""

    lot: str
    inspection: Inspection
    """Under which it was inspected."""
    accepted: bool
    """On original inspection."""
    in_gap: bool = False
    """True where it was accepted between the numbers of a reduced plan."""
    resubmitted: bool = False


class Override(Struct, frozen=True, kw_only=True):
    """A manager's decision on the inspection of the lots that follow, or that acceptance is taken up again."""

    id: str
    inspection: Inspection
    reason: str


class SwitchingState(Struct, frozen=True, kw_only=True):
    """Where a class stands after a lot: the inspection in effect, and what is counted towards the next switch."""

    state: State = "normal"
    recent: tuple[bool, ...] = ()
    """Of the last lots under normal inspection, at most five, whether each was accepted; since it is in effect."""
    accepted_in_a_row: int = 0
    """Under the inspection in effect."""
    rejected: int = 0
    """Under tightened inspection, since it is in effect."""

    @property
    def next_inspection(self) -> Inspection:
        """How the next lot is inspected; after acceptance was discontinued, tightened once it is taken up again (4.8)."""
        return next_inspection(self.state)


class Switch(Struct, frozen=True, kw_only=True):
    """One change of the inspection in effect, and why."""

    from_: State = field(name="from")
    to: State
    code: str
    text: str
    lot: str | UnsetType = UNSET
    """Whose outcome brought it."""
    override: str | UnsetType = UNSET
    """The decision that brought it."""


class SwitchingHistory(Struct, frozen=True, kw_only=True):
    """All of a class's history: where it stands now, and each switch in its order."""

    standing: SwitchingState
    switches: list[Switch]


def follow(history: Iterable[Inspected | Override], start: SwitchingState | None = None) -> SwitchingHistory:
    """Where a class stands after these lots and decisions, in their order; it starts under normal inspection (from memory).

    Lots inspected again count for nothing (4.7.1 asks for original inspection), and neither do those that were inspected under
    another severity than the one in effect when their turn comes, as when several lots are under way at a switch; nor any
    after acceptance was discontinued.
    """
    standing, switches = start or SwitchingState(), list[Switch]()
    for event in history:
        before = standing.state
        if isinstance(event, Override):
            standing = _overridden(standing, event)
            switches += [_by_decision(before, event)] if standing.state != before else []
        elif not event.resubmitted and event.inspection == before:
            counted_in = _counted_in(standing, event)
            standing = _switched(counted_in, event)
            switches += [_by_rule(counted_in, standing.state, event)] if standing.state != before else []
    return SwitchingHistory(standing=standing, switches=switches)


def next_inspection(state: State) -> Inspection:
    """How a lot is inspected in this state."""
    return "tightened" if state == "discontinued" else state


def override_flaws(standing: SwitchingState, inspection: Inspection, at: str) -> Iterator[Flaw]:
    """What is wrong with deciding so.

    Acceptance that was discontinued is taken up under tightened inspection (4.8), and reduced inspection follows normal
    inspection alone (4.7.3). A decision that is kept from before is followed all the same.
    """
    if standing.state == "discontinued" and inspection != "tightened":
        text = (
            "Acceptance was discontinued, and after corrective action it goes on under tightened inspection. Write `tightened`."
        )
        yield Flaw("resume-tightened", text, at)
    elif standing.state == inspection:
        yield Flaw("inspection-in-effect", f"The inspection is {inspection} already. There is nothing to decide.", at)
    elif inspection == "reduced" and (lacking := _lacking_for_reduced(standing)):
        first = f"Reduced inspection takes {ACCEPTED_TO_REDUCE} lots in a row that were accepted under normal inspection"
        yield Flaw("reduced-too-early", f"{first}, {lacking}", at)


def _lacking_for_reduced(standing: SwitchingState) -> str:
    """The end of a sentence on what reduced inspection lacks; empty where it lacks nothing."""
    if standing.state != "normal":
        return f"and inspection is {standing.state}. Wait until it is normal again and they are accepted."
    more = ACCEPTED_TO_REDUCE - standing.accepted_in_a_row
    if more <= 0:
        return ""
    there = standing.accepted_in_a_row
    return (
        f"and there {'is' if there == 1 else 'are'} {there or 'none'} by now. Decide again after {counted(more, 'lot')} more."
    )


def _overridden(standing: SwitchingState, decision: Override) -> SwitchingState:
    """All is counted anew, unless the decision changes nothing."""
    return standing if standing.state == decision.inspection else SwitchingState(state=decision.inspection)


def _counted_in(standing: SwitchingState, lot: Inspected) -> SwitchingState:
    """The lot counted in, before any switch."""
    is_normal, is_tightened = standing.state == "normal", standing.state == "tightened"
    return SwitchingState(
        state=standing.state,
        recent=(*standing.recent, lot.accepted)[-WINDOW:] if is_normal else (),
        accepted_in_a_row=standing.accepted_in_a_row + 1 if lot.accepted else 0,
        rejected=standing.rejected + 1 if is_tightened and not lot.accepted else standing.rejected,
    )


def _switched(standing: SwitchingState, lot: Inspected) -> SwitchingState:
    """The same, or all counted anew under what the rules put into effect."""
    to: State = standing.state
    match standing.state:
        case "normal" if standing.recent.count(False) >= REJECTED_TO_TIGHTEN:
            to = "tightened"
        case "tightened" if standing.accepted_in_a_row >= ACCEPTED_TO_NORMAL:
            to = "normal"
        case "tightened" if standing.rejected >= REJECTED_TO_STOP:
            to = "discontinued"
        case "reduced" if not lot.accepted or lot.in_gap:
            to = "normal"  # 4.7.4 a and b; c and d are a manager's to decide.
        case _:
            return standing
    return SwitchingState(state=to)


def _by_rule(before: SwitchingState, to: State, lot: Inspected) -> Switch:
    """What a lot's outcome brought."""
    if to == "tightened":
        of = f"{before.recent.count(False)} of the last {counted(len(before.recent), 'lot')}"
        code, text = "two-of-five-rejected", f"{of} under normal inspection were not accepted: inspection is tightened."
    elif to == "discontinued":
        text = (
            f"{before.rejected} lots under tightened inspection were not accepted: acceptance stops until the cause is mended."
        )
        code = "discontinued"
    elif before.state == "tightened":
        text = f"{before.accepted_in_a_row} lots in a row were accepted under tightened inspection: it is normal again."
        code = "five-accepted"
    elif lot.accepted:
        text = "A lot under reduced inspection was accepted only between the plan's numbers: inspection is normal again."
        code = "reduced-in-gap"
    else:
        code, text = "reduced-rejected", "A lot under reduced inspection was not accepted: inspection is normal again."
    return Switch(from_=before.state, to=to, code=code, text=text, lot=lot.lot)


def _by_decision(before: State, decision: Override) -> Switch:
    """What a manager decided."""
    text = f"It was decided that inspection is {decision.inspection}: {decision.reason}"
    return Switch(from_=before, to=decision.inspection, code="decided", text=text, override=decision.id)
