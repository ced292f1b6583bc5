"""The compilation of a specification into a grade that judges, or the list of all its flaws."""

from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from itertools import chain

from msgspec import Struct, UnsetType, field, to_builtins

from service.engine.characteristics import CompiledCharacteristic, Derivation, conversions_to
from service.engine.deriving import KINDS, Derived, NetOfTare, Side, Subject
from service.engine.documents import (
    PACKAGE,
    VOCABULARY,
    Flaw,
    FlawedDocumentError,
    Quantity,
    canonical,
    did_you_mean,
    digest_of,
    gathered,
    in_words,
    listed,
    one_of,
    quoted,
)
from service.engine.grade.precautions import precaution_flaws, precautions_of
from service.engine.grade.reading_plans import ReadingPlan
from service.engine.grade.searches import searches_flaws
from service.engine.grade.specification import Characteristic, Specification
from service.engine.lot import day_of, no_such_day
from service.engine.numbers import COUNTED, Unit, find_unit, unit_flaw, units_of
from service.engine.requirements import ENGINE_1, CompiledRequirement, GradeContext, OnCharacteristic
from service.engine.sampling import sample_flaws

ByName = Mapping[str, CompiledCharacteristic]
SEARCHED = b'"two_point"'
"""The JSON of the tag of plans that have to be searched for.

A document without these bytes has no such plan. One that has them only in a text is judged in a thread without need.
"""


class CompiledGrade(Struct, frozen=True):
    """A specification without flaws, compiled for judging."""

    digest: str
    """`sha256:…` of the specification's canonical form."""
    characteristics: Mapping[str, CompiledCharacteristic]
    requirements: Sequence[CompiledRequirement]
    derived: Sequence[CompiledCharacteristic]
    """The derived characteristics that a requirement needs, in the order in which they have to be derived."""
    plans: dict[tuple[str, str], ReadingPlan] = field(default_factory=dict)
    """The plans for checks of single readings, by characteristic and unit; a plan is added by the first check that needs it."""
    article: str | None = None
    """The article that is sold under the grade, such as `baler twine`; None where the specification has none."""
    searches_plans: bool = False
    """True where a two-point plan has to be searched for, which takes up to a second for each new lot size."""


def compile_specification(specification: Specification) -> CompiledGrade:
    """The compiled grade. Raises FlawedDocumentError with all flaws, each with its pointer into the specification."""
    if flaws := list(searches_flaws(specification)):
        # Reported alone: to check the samples too, the plans that are too many would have to be searched for.
        raise FlawedDocumentError(flaws)
    characteristics = _characteristics(specification)
    flaws = gathered(
        chain(
            _document_flaws(specification),
            _characteristics_flaws(specification),
            _requirements_flaws(specification, characteristics),
        )
    )
    if flaws:
        raise FlawedDocumentError(flaws)
    context = _context(specification, characteristics)
    requirements = [
        ENGINE_1[type(each)].compiled(each, context, f"/requirements/{number}")
        for number, each in enumerate(specification.requirements)
    ]
    used = {source.name: source for requirement in requirements for source in requirement.sources}
    # A characteristic may be derived from a net content, which is derived itself and has to come first.
    derived = sorted(
        (each for each in used.values() if each.derived), key=lambda each: any(side.derived for side in each.sides)
    )
    # Of the canonical form, so that the order of members and the writing of numbers do not change the digest.
    document, article = canonical(to_builtins(specification)), specification.article or None
    searches = SEARCHED in document
    return CompiledGrade(digest_of(document), characteristics, requirements, derived, article=article, searches_plans=searches)


def _context(specification: Specification, characteristics: ByName) -> GradeContext:
    """The context in which each requirement of the specification is checked and compiled."""
    # Reversed, so that the first requirement of an id replaces later ones; the later ones are reported as flaws.
    numbered = list(enumerate(specification.requirements))
    documents = {each.id: each for _, each in reversed(numbered)}
    pointers = {each.id: f"/requirements/{number}" for number, each in reversed(numbered)}
    return GradeContext(characteristics, documents, pointers, specification.package or PACKAGE)


def _characteristics(specification: Specification) -> dict[str, CompiledCharacteristic]:
    """The characteristics that can be compiled, by name, the first of each name; `_characteristics_flaws` reports the rest."""
    found: dict[str, CompiledCharacteristic] = {}
    numbered = list(enumerate(specification.characteristics))
    holds, pack = (specification.pack.holds, specification.pack.name) if specification.pack else (1, PACKAGE)
    package = specification.package or PACKAGE
    # Derived characteristics are compiled after their sources, which may be behind them in the document; a net content before
    # other derived ones, as it is the only derived characteristic that another may be derived from.
    for number, each in sorted(numbered, key=lambda item: (bool(item[1].derived), not isinstance(item[1].derived, NetOfTare))):
        quantity = _quantity(each)
        if each.name in found or quantity is None:
            continue
        found[each.name] = CompiledCharacteristic(
            pointer=f"/characteristics/{number}",
            name=each.name,
            quantity=quantity,
            unit=(unit := _unit(each, quantity)),
            sample=each.sample or None,
            derived=(derived := _derivation(each.derived, unit, found) if each.derived and unit else None),
            conversions=conversions_to(unit) if unit else {},
            precautions=precautions_of(each),
            holds=derived.sources[0].holds if derived else holds if each.per == "pack" else 1,
            package=derived.sources[0].package if derived else pack if each.per == "pack" else package,
        )
    return found


def _quantity(document: Characteristic) -> Quantity | None:
    """The quantity that the vocabulary has for the name, else the stated one; None where there is neither."""
    term = VOCABULARY.get(document.name)
    return term.quantity if term else document.quantity or None


def _unit(document: Characteristic, quantity: Quantity) -> Unit | None:
    """The unit that it is judged in, which a count need not state; None for a category or a unit of another quantity."""
    if quantity == "count" and not document.unit:
        return COUNTED
    unit = find_unit(document.unit, quantity) if document.unit else None
    return unit if unit and unit.quantity == quantity else None


def _derivation(derived: Derived, unit: Unit, measured: ByName) -> Derivation | None:
    """The compiled derivation; None where a characteristic that it needs could not be compiled."""
    kind = KINDS[type(derived)]
    sources = [measured.get(side.name) for side in kind.sides(derived)]
    present = [source for source in sources if source]
    return kind.compiled(derived, present, unit) if len(present) == len(sources) else None


def _document_flaws(specification: Specification) -> Iterator[Flaw]:
    """The date of the buyer's document is a day of the calendar."""
    if not specification.document or not specification.document.date:
        return
    if day_of(specification.document.date) is None:
        yield no_such_day(specification.document.date, "/document/date")


def _characteristics_flaws(specification: Specification) -> Iterator[Flaw]:
    """The flaws of the characteristics, in the order of the document."""
    documents, first = specification.characteristics, dict[str, int]()
    by_name = {document.name: document for document in reversed(documents)}
    for number, each in enumerate(documents):
        at = f"/characteristics/{number}"
        if each.name in first:
            text = f"`{each.name}` is already at /characteristics/{first[each.name]}. Put both into one."
            yield Flaw("characteristic-twice", text, f"{at}/name")
        first.setdefault(each.name, number)
        yield from _characteristic_flaws(each, by_name, at)
        if each.per == "pack" and not specification.pack:
            text = (
                f"`{each.name}` is measured on packs, and the grade does not give how many packages a pack holds. Add `pack`."
            )
            yield Flaw("missing-field", text, "/pack")


def _characteristic_flaws(document: Characteristic, by_name: Mapping[str, Characteristic], at: str) -> Iterator[Flaw]:
    """The flaws of one characteristic: its quantity, its unit, its sample, its precautions, its derivation."""
    quantity = _quantity(document)
    yield from _quantity_flaws(document, at)
    if quantity:
        yield from _unit_flaws(document, quantity, at)
    if not isinstance(document.sample, UnsetType):
        yield from sample_flaws(document.sample, f"{at}/sample")
        yield from _sample_place_flaws(document, quantity, at)
    yield from precaution_flaws(document, quantity, _unit(document, quantity) if quantity else None, at)
    if document.derived:
        yield from _derived_flaws(document, document.derived, by_name, at)


def _quantity_flaws(document: Characteristic, at: str) -> Iterator[Flaw]:
    """A name of the vocabulary has the quantity of the vocabulary; any other name states one."""
    term = VOCABULARY.get(document.name)
    if term and document.quantity and document.quantity != term.quantity:
        text = f"`{document.name}` is a {in_words(term.quantity)}, `{term.quantity}`. Remove `quantity`, or use another name."
        yield Flaw("quantity-differs", text, f"{at}/quantity")
    if not term and not document.quantity:
        suggestion = did_you_mean(document.name, VOCABULARY)
        text = f"{quoted(document.name)} is not in the vocabulary.{suggestion} If it is a name of your own, add its `quantity`."
        yield Flaw("quantity-missing", text, f"{at}/quantity")


def _unit_flaws(document: Characteristic, quantity: Quantity, at: str) -> Iterator[Flaw]:
    """The unit is one of the quantity; a category has none."""
    symbols = [unit.symbol for unit in units_of(quantity)] if quantity != "category" else []
    if quantity == "category":
        if document.unit:
            yield Flaw("unit-of-category", f"`{document.name}` is only declared and has no unit. Remove `unit`.", f"{at}/unit")
    elif isinstance(document.unit, UnsetType):
        if quantity != "count":
            text = f"`{document.name}` has no unit for its limits. Add `unit`: {one_of(symbols)}."
            yield Flaw("missing-field", text, f"{at}/unit")
    elif (unit := find_unit(document.unit, quantity)) is None or unit.quantity != quantity:
        yield unit_flaw(document.unit, document.name, quantity, symbols, f"{at}/unit")


def _sample_place_flaws(document: Characteristic, quantity: Quantity | None, at: str) -> Iterator[Flaw]:
    """Only measured characteristics have samples."""
    if document.derived:
        sides = [side.name for side in KINDS[type(document.derived)].sides(document.derived)]
        where = f"Give the samples to {listed(sides, 'and')}." if sides else "Remove `sample`."
        text = f"`{document.name}` is calculated and has no sample of its own. {where}"
        yield Flaw("sample-not-here", text, f"{at}/sample")
    elif quantity == "category":
        yield Flaw("sample-not-here", f"`{document.name}` is only declared. Remove `sample`.", f"{at}/sample")


def _derived_flaws(
    document: Characteristic, derived: Derived, by_name: Mapping[str, Characteristic], at: str
) -> Iterator[Flaw]:
    """The sources are measured characteristics of the grade, and have quantities that give the one of the name."""
    kind, quantities = KINDS[type(derived)], list[Quantity | None]()
    for side in kind.sides(derived):
        found = list(_side_flaws(document, side, by_name, f"{at}/derived"))
        yield from found
        quantities.append(None if found else _quantity(by_name[side.name]))
    yield from kind.flaws(derived, Subject(document.name, _quantity(document)), quantities, f"{at}/derived")
    yield from _per_flaws(document, [by_name[side.name] for side in kind.sides(derived) if side.name in by_name], by_name, at)


def _per(document: Characteristic, by_name: Mapping[str, Characteristic]) -> str:
    """What a reading is of: `package` or `pack`; a net content has that of its gross mass."""
    gross = by_name.get(document.derived.gross) if isinstance(document.derived, NetOfTare) else None
    return (gross or document).per or "package"


def _per_flaws(
    document: Characteristic, sides: Sequence[Characteristic], by_name: Mapping[str, Characteristic], at: str
) -> Iterator[Flaw]:
    """A derived characteristic states no `per` of its own, and all its sources are read on packages, or all on packs."""
    if document.per and sides:
        sources = listed((side.name for side in sides), "and")
        text = f"`{document.name}` is of whatever {sources} are measured on. Remove `per`."
        yield Flaw("per-not-here", text, f"{at}/per")
    pers = {side.name: _per(side, by_name) for side in sides}
    if len(set(pers.values())) > 1:
        per_text = " and ".join(f"`{name}` is per {per}" for name, per in pers.items())
        yield Flaw(
            "sides-per-other",
            f"{per_text}, and `{document.name}` needs both per the same. Change one of them.",
            f"{at}/derived",
        )


def _side_flaws(document: Characteristic, side: Side, by_name: Mapping[str, Characteristic], at: str) -> Iterator[Flaw]:
    """The flaws of one characteristic that a derivation names."""
    name, at = side.name, f"{at}/{side.member}"
    found = by_name.get(name)
    if found is None:
        yield unknown_characteristic_flaw(name, by_name, at)
    elif name == document.name:
        yield Flaw("derived-of-itself", f"`{name}` cannot be calculated from itself. Name a measured characteristic.", at)
    elif found.derived and (isinstance(document.derived, NetOfTare) or not isinstance(found.derived, NetOfTare)):
        yield Flaw("derived-of-derived", f"`{name}` is calculated itself. Name a measured characteristic.", at)
    elif _quantity(found) == "category":
        yield Flaw("category-not-measured", f"`{name}` is only declared, never measured. Name a measured characteristic.", at)


def unknown_characteristic_flaw(name: str, known: Collection[str], at: str) -> Flaw:
    """The flaw of a name that no characteristic of the specification has."""
    suggestion = did_you_mean(name, known) or " Add it to `characteristics`, or correct the name."
    return Flaw("unknown-characteristic", f"There is no characteristic {quoted(name)} here.{suggestion}", at)


def _requirements_flaws(specification: Specification, characteristics: ByName) -> Iterator[Flaw]:
    """The flaws of the requirements, in the order of the document."""
    documents, names = specification.requirements, [each.name for each in specification.characteristics]
    if not any(each.binding is not False for each in documents):
        text = "No requirement is binding, so every lot would pass. Make at least one binding."
        yield Flaw("nothing-binding", text, "/requirements")
    times, context = Counter(each.id for each in documents), _context(specification, characteristics)
    first: dict[str, int] = {}
    for number, each in enumerate(documents):
        at = f"/requirements/{number}"
        if times[each.id] > 1 and each.id in first:
            text = f"{quoted(each.id)} is already the id of /requirements/{first[each.id]}. Give this one another id."
            yield Flaw("id-twice", text, f"{at}/id")
        first.setdefault(each.id, number)
        if isinstance(each, OnCharacteristic) and each.of not in names:
            yield unknown_characteristic_flaw(each.of, names, f"{at}/of")
        yield from ENGINE_1[type(each)].flaws(each, context, at)
