"""The precautions of a grade: plausible values, the method, calibrated instruments, and the effect of remarks on readings."""

from collections.abc import Iterator
from fractions import Fraction

from service.engine.characteristics import NO_PRECAUTIONS, CompiledCharacteristic, Limits, Precautions, limits_flaws
from service.engine.documents import Flaw, Quantity
from service.engine.grade.specification import Characteristic
from service.engine.lot import remark_flaws
from service.engine.numbers import Unit, exact


def precautions_of(document: Characteristic) -> Precautions:
    """The compiled precautions of a document without flaws."""
    plausible, method, rules = document.plausible, document.method, document.remarks
    is_calibrated = document.overdue_calibration == "undecided"
    # One object for all without precautions, so that a check of a reading sees it by `is` and looks no further.
    if not (plausible or method or rules or is_calibrated):
        return NO_PRECAUTIONS
    share = rules.passes_outside_marks_at if rules else None
    return Precautions(
        plausible=(_exact_or_none(plausible.lower), _exact_or_none(plausible.upper)) if plausible else None,
        method=method or None,
        left_out=frozenset(rules.leave_out or ()) if rules else frozenset(),
        outside_marks_at=exact(share.percent) if share else None,
        is_calibrated=is_calibrated,
    )


def _exact_or_none(number: object) -> Fraction | None:
    return exact(number) if isinstance(number, int | float) else None


def precaution_flaws(document: Characteristic, quantity: Quantity | None, unit: Unit | None, at: str) -> Iterator[Flaw]:
    """The flaws of the precautions of a characteristic."""
    members = {
        "plausible": document.plausible,
        "method": document.method,
        "remarks": document.remarks,
        "overdue_calibration": document.overdue_calibration,
    }
    given = [name for name, member in members.items() if member]
    if document.derived or quantity == "category":
        what = "calculated" if document.derived else "only declared"
        for name in given:
            text = f"`{name}` is for readings, and `{document.name}` is {what}. Remove it."
            yield Flaw("not-of-readings", text, f"{at}/{name}")
        return
    if document.plausible:
        # A plausible range has the flaws that limits have, so it is checked as limits.
        limits = Limits(lower=document.plausible.lower, upper=document.plausible.upper)
        of = CompiledCharacteristic(at, document.name, quantity or "ratio", unit, None, None, {})
        yield from limits_flaws(limits, of, f"{at}/plausible")
    if document.remarks:
        yield from remark_flaws(document.remarks, quantity, f"{at}/remarks")
