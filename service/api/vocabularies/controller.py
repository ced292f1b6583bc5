"""The controllers of the vocabularies: named characteristics, named faults, units."""

from litestar import Controller
from msgspec import UNSET

from service.api.handlers import get
from service.api.operations import documented
from service.api.vocabularies import operations
from service.api.vocabularies.documents import CharacteristicList, CharacteristicShown, FaultList, UnitList, UnitShown
from service.engine.documents import FAULTS, TERMS, Quantity, Term
from service.engine.numbers import COUNTED, RECIPROCAL, TABLE, Unit, units_of


class CharacteristicController(Controller):
    """Characteristics that grades may limit."""

    path = "/v1/characteristics"

    @get(**documented(operations.LIST_CHARACTERISTICS))
    async def list_characteristics(self) -> CharacteristicList:
        """List the vocabulary of characteristics."""
        return CharacteristicList([_characteristic(term) for term in TERMS])


class FaultController(Controller):
    """Faults that inspectors count."""

    path = "/v1/faults"

    @get(**documented(operations.LIST_FAULTS))
    async def list_faults(self) -> FaultList:
        """List the vocabulary of faults."""
        return FaultList(list(FAULTS))


class UnitController(Controller):
    """Units of limits and readings."""

    path = "/v1/units"

    @get(**documented(operations.LIST_UNITS))
    async def list_units(self) -> UnitList:
        """List the table of units."""
        return UnitList([_unit(unit) for unit in (*TABLE, COUNTED)])


def _characteristic(term: Term) -> CharacteristicShown:
    # Readings of linear density may come for a limit on runnage, and the reverse: they are turned round one by one.
    reciprocal = RECIPROCAL.get(term.quantity)
    turned = _symbols(reciprocal) if reciprocal else []
    return CharacteristicShown(term.name, term.quantity, term.meaning, _symbols(term.quantity), turned)


def _symbols(quantity: Quantity) -> list[str]:
    return [unit.symbol for unit in units_of(quantity)]


def _unit(unit: Unit) -> UnitShown:
    return UnitShown(
        unit.symbol,
        unit.name,
        unit.quantity,
        # Exact factors as digits: a JSON number would pass through doubles in many parsers.
        str(unit.factor.numerator),
        str(unit.factor.denominator),
        unit.ucum or UNSET,
        list(unit.rec20) or UNSET,
    )
