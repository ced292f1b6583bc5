"""What happens to a request between its admission and its handler: what is wrong with it gets no further."""

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from litestar.handlers import BaseRouteHandler, HTTPRouteHandler

from service.api.access.gate import LONG
from service.api.application import RequestPolicy
from service.api.bodies.documents import FindFlaws, StrictDTO
from service.api.bodies.receiving import StrictRequest
from service.api.exchanges import exchange_of
from service.api.operations import Operation, operation_of
from service.api.parameters import Parameter, check_query, parameters_of
from service.api.strict.grammar import NotJsonError
from service.engine.documents import FlawedDocumentError
from service.ports.catalogue import Catalogue
from service.ports.ledger import Ledger
from service.usecases.grades import check_there


class Reading(NamedTuple):
    """What is read for a handler, found out at its first request."""

    operation: Operation
    document: type[StrictDTO[Any]] | None
    look: FindFlaws | None
    parameters: Sequence[Parameter]


class Receiving:
    """Before each handler: what its path names is there, then its body and its query are read, with all their flaws."""

    def __init__(
        self, catalogue: Catalogue, ledger: Ledger, edge: RequestPolicy, looks: Mapping[str, FindFlaws], most_readings: int
    ) -> None:
        """Read by these.

        looks          by the name of an operation, what finds the flaws of meaning in its document
        most_readings  of a request
        """
        self._catalogue, self._ledger, self._bodies, self._gate = catalogue, ledger, edge.bodies, edge.gate
        self._looks, self._most_readings = looks, most_readings
        self._readings: dict[BaseRouteHandler, Reading] = {}

    async def __call__(self, request: StrictRequest) -> None:
        """Read it. Raises what a request can be refused by."""
        handler = request.route_handler
        reading = self._readings.get(handler) or self._found_out(handler)
        operation, names = reading.operation, request.path_params
        query = request.scope["query_string"] if operation.is_strict else b""
        is_named = bool(names) and not operation.makes_what_it_names
        # What is not there is told before anything that is wrong with the request.
        if is_named and (operation.takes_body or query):
            await check_there(self._catalogue, {name: str(text) for name, text in names.items()})
        if operation.takes_body:
            await self._take_body(request, operation)
        try:
            if query:
                check_query(query, reading.parameters)
            if reading.document:
                exchange_of(request.scope).document = await reading.document.read(request, reading.look, self._most_readings)
        except (FlawedDocumentError, NotJsonError):
            if is_named and "lot" in names:
                await self._ledger.row(names["lot"])
            raise

    async def _take_body(self, request: StrictRequest, operation: Operation) -> None:
        """Take it in; a long one waits for its turn, which ends with the request."""
        request.whole = await self._bodies.taken(request, operation)
        if len(request.whole) > LONG:
            exchange_of(request.scope).is_long = True
            await self._gate.begin_long()

    def _found_out(self, handler: BaseRouteHandler) -> Reading:
        operation = operation_of(handler)
        document = handler.resolve_data_dto() if isinstance(handler, HTTPRouteHandler) else None
        strict = document if document is not None and issubclass(document, StrictDTO) else None
        made = Reading(operation, strict, self._looks.get(operation.name), parameters_of(handler))
        return self._readings.setdefault(handler, made)
