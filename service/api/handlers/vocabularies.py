"""The characteristics and the faults that have a name, and the units."""

from msgspec import UNSET

from service.api.documents import CharacteristicList, CharacteristicShown, FaultList, UnitList, UnitShown
from service.api.problems import Answer
from service.api.requests import Request
from service.api.service import Service, shown
from service.engine.faults import FAULTS
from service.engine.units import COUNTED, RECIPROCAL, TABLE, Unit, units_of
from service.engine.vocabulary import TERMS, Quantity, Term


async def list_characteristics(request: Request, service: Service) -> Answer:
    """The vocabulary."""
    return shown(CharacteristicList(shown_characteristics()))


async def list_faults(request: Request, service: Service) -> Answer:
    """The vocabulary of faults."""
    return shown(FaultList(list(FAULTS)))


async def list_units(request: Request, service: Service) -> Answer:
    """The table of units."""
    return shown(UnitList(shown_units()))


def shown_characteristics() -> list[CharacteristicShown]:
    """The vocabulary as it is sent."""
    return [_characteristic(term) for term in TERMS]


def shown_units() -> list[UnitShown]:
    """The table of units as it is sent."""
    return [_unit(unit) for unit in (*TABLE, COUNTED)]


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
