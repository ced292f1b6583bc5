"""The characteristics and the faults that have a name, and the units."""

from litestar import Controller
from msgspec import UNSET

from service.api.handlers import get
from service.api.operations import documented
from service.api.vocabularies import operations
from service.api.vocabularies.documents import CharacteristicList, CharacteristicShown, FaultList, UnitList, UnitShown
from service.engine.documents import FAULTS, TERMS, Quantity, Term
from service.engine.numbers import COUNTED, RECIPROCAL, TABLE, Unit, units_of


class CharacteristicController(Controller):
    """What grades may limit."""

    path = "/v1/characteristics"

    @get(**documented(operations.LIST_CHARACTERISTICS))
    async def list_characteristics(self) -> CharacteristicList:
        """The vocabulary."""
        return CharacteristicList([_characteristic(term) for term in TERMS])


class FaultController(Controller):
    """What inspectors see."""

    path = "/v1/faults"

    @get(**documented(operations.LIST_FAULTS))
    async def list_faults(self) -> FaultList:
        """The vocabulary of faults."""
        return FaultList(list(FAULTS))


class UnitController(Controller):
    """What limits and readings are in."""

    path = "/v1/units"

    @get(**documented(operations.LIST_UNITS))
    async def list_units(self) -> UnitList:
        """The table of units."""
        return UnitList([_unit(unit) for unit in (*TABLE, COUNTED)])


def _characteristic(term: Term) -> CharacteristicShown:
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
        str(unit.factor.numerator),
        str(unit.factor.denominator),
        unit.ucum or UNSET,
        list(unit.rec20) or UNSET,
    )
