"""Differences between two sides' statements on a lot: of the lot itself, of counts, declarations and dates."""

from collections.abc import Iterator, Sequence
from datetime import date

from msgspec import UnsetType

from service.engine.characteristics import CompiledCharacteristic
from service.engine.comparing.documents import Divergence
from service.engine.documents import Amount, Counted, Evidence, Lot, capitalised, counted, quoted, written
from service.engine.lot import SECOND, CountsNeeded
from service.engine.numbers import with_unit

NOT_STATED = "not given"


def lots_differ(ours: Lot, theirs: Lot) -> Iterator[Divergence]:
    """The differences in the lot itself: its id, its size, its inspection, on which samples and allowances depend."""
    if ours.id != theirs.id:
        text = f"Our evidence is of lot {quoted(ours.id)}, theirs of {quoted(theirs.id)}. Make sure that it is the same lot."
        yield Divergence("lots", text)
    if ours.size != theirs.size:
        text = f"By our evidence the lot has {_size(ours)}, by theirs {_size(theirs)}. Samples and allowances may depend on it."
        yield Divergence("lot-sizes", text)
    for what in ("length", "mass"):
        one, other = (_amount(getattr(each, what)) for each in (ours, theirs))
        if one != other:
            yield Divergence(f"lot-{what}", f"The {what} of the lot is {one} in our evidence and {other} in theirs.")
    # A lot that states no inspection is inspected under normal inspection, so stating it is no difference.
    if (ours.inspection or "normal", ours.inspections) != (theirs.inspection or "normal", theirs.inspections):
        yield Divergence("inspection", f"We inspected the lot under {_inspection(ours)}, they under {_inspection(theirs)}.")


def received_later(received: date, judged: date) -> Iterator[Divergence]:
    """The difference in time, if the claim was received on a later day than that of our verdict."""
    if days := max((received - judged).days, 0):
        text = f"The claim was received on {received}, {counted(days, 'day')} after our verdict of {judged}."
        yield Divergence("received-later", f"{text} Neither evidence shows what happened to the goods in between.")


def declarations_differ(ours: Evidence, theirs: Evidence, of: CompiledCharacteristic) -> Iterator[Divergence]:
    """The difference in the declared value of a characteristic."""
    one, other = (_declared(each, of.name) for each in (ours, theirs))
    if one != other:
        yield Divergence("declarations", f"{capitalised(of.words)} is {one} in our evidence and {other} in theirs.")


def dates_differ(ours: Evidence, theirs: Evidence, events: Sequence[str]) -> Iterator[Divergence]:
    """The differences in the dates of events on which a requirement depends."""
    for event in events:
        one, other = (
            next((each.date for each in side.dates or () if each.event == event), "not given") for side in (ours, theirs)
        )
        if one != other:
            yield Divergence("dates", f"The date of {quoted(event)} is {one} in our evidence and {other} in theirs.")


def counts_differ(ours: Evidence, theirs: Evidence, asked: Sequence[CountsNeeded]) -> Iterator[Divergence]:
    """The differences in the amounts on which the classes and faults of `asked` were counted."""
    for each in asked:
        one, other = (_looked_over(side, each) for side in (ours, theirs))
        if one != other:
            what = f"{each.sort} {quoted(each.name)}"
            yield Divergence("looked-over", f"For {what} the inspected amount is {one} in our evidence and {other} in theirs.")


def _declared(evidence: Evidence, name: str) -> str:
    """The declared value in words."""
    # Compared as written, since 1 == True in Python, while a declared 1 and a declared true differ.
    value = next((each.value for each in evidence.declared or () if each.characteristic == name), None)
    if value is None:
        return NOT_STATED
    if isinstance(value, bool):
        return "true" if value else "false"
    return quoted(value) if isinstance(value, str) else written(value)


def _size(lot: Lot) -> str:
    return counted(lot.size, "package") if lot.size else "a size that is not given"


def _amount(amount: Amount | UnsetType) -> str:
    return NOT_STATED if isinstance(amount, UnsetType) else with_unit(written(amount.value), amount.unit)


def _inspection(lot: Lot) -> str:
    """The inspection in words: `normal inspection`, and the classes or requirements under another one."""
    others = [
        f"{each.inspection} for {quoted(each.class_ or each.requirement)}"
        for each in (() if isinstance(lot.inspections, UnsetType) else lot.inspections)
    ]
    return ", ".join([f"{lot.inspection or 'normal'} inspection", *others])


def _looked_over(evidence: Evidence, asked: CountsNeeded) -> str:
    """The amount on which a class or a fault was counted, in words, stage by stage."""
    found = [each for each in evidence.counts or () if asked.name == (each.class_ if asked.sort == "class" else each.fault)]
    return " and ".join(map(_extent, sorted(found, key=lambda each: each.stage or 1))) or NOT_STATED


def _extent(count: Counted) -> str:
    """The amount of one count in words: `50 packages`, `2400 m`, with its sample."""
    parts = [] if isinstance(count.looked_at, UnsetType) else [_amount(count.looked_at)]
    if not isinstance(count.by_package, UnsetType):
        parts.append(counted(len(count.by_package), "package"))
    elif not isinstance(count.inspected, UnsetType):
        parts.append(counted(count.inspected, "package"))
    return f"{' of '.join(parts) or 'not given'}{' in the second sample' if count.stage == SECOND else ''}"
