"""The kind `declared`: the declared value is one of `one_of`."""

from collections.abc import Iterator, Sequence
from typing import Annotated

from msgspec import Meta

from service.engine.bounds import number_flaws
from service.engine.flaws import Flaw, cut, listed
from service.engine.lots import NOWHERE, Lot, Pointers
from service.engine.requirements.documents import OnCharacteristic
from service.engine.requirements.limits.guarding import decision_not_here
from service.engine.requirements.rules import CharacteristicRule, characteristic_parts
from service.engine.requirements.surroundings import Surroundings
from service.engine.texts import Declarable, written
from service.engine.verdict import Finding, Outcome, Reason


class Declared(OnCharacteristic, frozen=True, kw_only=True, tag="declared"):
    """The declared value is one of these texts, numbers or booleans."""

    one_of: Annotated[list[Declarable], Meta(min_length=1, max_length=100)]


class DeclaredRule(CharacteristicRule, frozen=True, kw_only=True):
    """The same, ready to judge."""

    one_of: Sequence[Declarable]

    def judge(self, lot: Lot) -> Finding:
        """Pass, fail, or undecided where nothing is declared."""
        choices = listed(shown(each) for each in self.one_of)
        found = lot.declared.get(self.of.name)
        if found is None:
            text = f"No {self.of.words} is declared; it has to be {choices}."
            return self._finding(Outcome.UNDECIDED, "not-declared", text, {"one_of": self.one_of}, NOWHERE)
        number, value = found
        at = Pointers([f"/declared/{number}"], 1)
        parameters: dict[str, object] = {"value": value, "one_of": self.one_of}
        if any(are_equal(value, each) for each in self.one_of):
            text = f"The declared {self.of.words}, `{shown(value)}`, is what it has to be: {choices}."
            return self._finding(Outcome.PASS, "declared-agrees", text, parameters, at)
        text = f"The declared {self.of.words} is `{shown(value)}`; it has to be {choices}."
        return self._finding(Outcome.FAIL, "declared-differs", text, parameters, at)

    def _finding(self, outcome: Outcome, code: str, text: str, parameters: dict[str, object], at: Pointers) -> Finding:
        return self.finding(outcome, [Reason(code, text, parameters, f"{self.pointer}/one_of", at.first, at.total)])


def are_equal(one: Declarable, other: Declarable) -> bool:
    """1 and 1.0 are equal; 1 and true, which Python takes for equal, are not."""
    return isinstance(one, bool) == isinstance(other, bool) and one == other


def shown(value: Declarable) -> str:
    """The value as the document writes it, a long text cut."""
    if isinstance(value, bool):
        return "true" if value else "false"
    # Adding 0 turns −0 into 0 and changes nothing else.
    return written(value + 0.0) if isinstance(value, float | int) else cut(value)


def flaws(document: Declared, surroundings: Surroundings, at: str) -> Iterator[Flaw]:
    """What is wrong with it."""
    yield from decision_not_here(document.decision, "declared", at)
    for number, value in enumerate(document.one_of):
        if isinstance(value, float | int):
            yield from number_flaws(value, f"{at}/one_of/{number}")


def compiled(document: Declared, surroundings: Surroundings, pointer: str) -> DeclaredRule:
    """Ready to judge; the document has no flaws."""
    of = surroundings.characteristic(document.of)
    return DeclaredRule(one_of=document.one_of, **characteristic_parts(document, of, pointer))
