"""Declarations of the operations on the vocabularies, for the OpenAPI document, logs and access control."""

from service.api.operations import Operation, Reply
from service.api.problems import OK
from service.api.vocabularies.documents import CharacteristicList, FaultList, UnitList
from service.ports.catalogue import Scope

LIST_CHARACTERISTICS = Operation(
    name="listCharacteristics",
    tag="vocabularies",
    summary="List the characteristics",
    description=("The names of the vocabulary, what they mean, and the units in which their limits and readings may be given."),
    scope=Scope.READ,
    replies=(Reply(OK, "The vocabulary.", CharacteristicList),),
)
LIST_FAULTS = Operation(
    name="listFaults",
    tag="vocabularies",
    summary="List the faults",
    description=(
        "What an inspector finds when a package is unwound, by the names that counts and grades use. A grade may have "
        "other faults of its own."
    ),
    scope=Scope.READ,
    replies=(Reply(OK, "The vocabulary of faults.", FaultList),),
)
LIST_UNITS = Operation(
    name="listUnits",
    tag="vocabularies",
    summary="List the units",
    description="The closed table of units, with their codes in UCUM and UN/CEFACT Rec 20 and their exact factors.",
    scope=Scope.READ,
    replies=(Reply(OK, "The table.", UnitList),),
)
