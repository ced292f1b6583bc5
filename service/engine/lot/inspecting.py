"""Inspection severity per class or requirement, where the evidence states it in `inspections`: the flaws in that list."""

from collections.abc import Iterator, Sequence

from msgspec import UnsetType

from service.engine.documents import Flaw, InspectionOf, did_you_mean, listed, quoted
from service.engine.lot.questions import LotQuestions

MOST_LISTED = 20


def inspections_flaws(
    inspections: Sequence[InspectionOf] | UnsetType, requirements: Sequence[LotQuestions], at: str
) -> Iterator[Flaw]:
    """The flaws of stated severities: each is of one class or of one requirement that the grade has, and stated once."""
    # Without a check a misspelt name would leave its class under the lot's general severity, and nobody would notice.
    classes = {str(requirement.class_name): requirement for requirement in requirements if requirement.class_name}
    ids = {requirement.id: requirement for requirement in requirements}
    first: dict[tuple[str, str], int] = {}
    for number, stated in enumerate(inspections or ()):
        where = f"{at}/{number}"
        if bool(stated.class_) == bool(stated.requirement):
            text = "An inspection is of a `class` or of a `requirement`. Give one of the two."
            yield Flaw("class-or-requirement", text, where)
            continue
        sort, name, known = ("class", stated.class_, classes) if stated.class_ else ("requirement", stated.requirement, ids)
        key = (sort, str(name))
        if key[1] not in known:
            its = f" It has {listed(list(known)[:MOST_LISTED], 'and')}." if known else ""
            remedy = did_you_mean(key[1], known) or its
            code = "unknown-class" if stated.class_ else "unknown-requirement"
            text = (
                f"The grade has no {sort} {quoted(name)}.{remedy}"
                if known
                else "This grade has no classes of defects. Remove it."
            )
            yield Flaw(code, text, f"{where}/{sort}")
        elif key in first:
            text = f"The inspection of {quoted(name)} is already given at {at}/{first[key]}. Remove one of the two."
            yield Flaw("inspection-twice", text, f"{where}/{sort}")
        first.setdefault(key, number)
