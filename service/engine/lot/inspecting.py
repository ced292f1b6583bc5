"""How severely each requirement's plan is applied, where the lot tells it class by class."""

from collections.abc import Iterator, Sequence

from msgspec import UnsetType

from service.engine.documents import Flaw, InspectionOf, did_you_mean, listed, quoted
from service.engine.lot.questions import LotQuestions

MOST_LISTED = 20


def inspections_flaws(
    told: Sequence[InspectionOf] | UnsetType, requirements: Sequence[LotQuestions], at: str
) -> Iterator[Flaw]:
    """What is wrong with what is told class by class: each is of a class or of a requirement that the grade has, once."""
    classes = {str(each.class_name): each for each in requirements if each.class_name}
    ids = {each.id: each for each in requirements}
    first: dict[tuple[str, str], int] = {}
    for number, each in enumerate(told or ()):
        where = f"{at}/{number}"
        if bool(each.class_) == bool(each.requirement):
            yield Flaw("class-or-requirement", "It is of a `class` or of a `requirement`. Give one of the two.", where)
            continue
        sort, name, known = ("class", each.class_, classes) if each.class_ else ("requirement", each.requirement, ids)
        key = (sort, str(name))
        if key[1] not in known:
            remedy = did_you_mean(key[1], known) or f" It has {listed(list(known)[:MOST_LISTED], 'and')}."
            code = "unknown-class" if each.class_ else "unknown-requirement"
            yield Flaw(code, f"The grade has no {sort} {quoted(name)}.{remedy}", f"{where}/{sort}")
        elif key in first:
            text = f"The inspection of {quoted(name)} is told at {at}/{first[key]} already. Leave one of the two out."
            yield Flaw("inspection-twice", text, f"{where}/{sort}")
        first.setdefault(key, number)
