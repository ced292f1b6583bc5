"""Receive a request before its handler runs: existence of what the path names, then the body, then all flaws of both."""

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from litestar.handlers import BaseRouteHandler, HTTPRouteHandler

from service.api.access.gate import LONG_BODY
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


class HandlerInput(NamedTuple):
    """What has to be read for one handler; determined at its first request."""

    operation: Operation
    document: type[StrictDTO[Any]] | None
    find_flaws: FindFlaws | None
    parameters: Sequence[Parameter]


class Receiving:
    """Litestar's `before_request` hook: reads body and query strictly, so that a handler gets only documents without flaws."""

    def __init__(
        self,
        catalogue: Catalogue,
        ledger: Ledger,
        policy: RequestPolicy,
        flaw_finders: Mapping[str, FindFlaws],
        most_readings: int,
    ) -> None:
        """Create the hook, once per application.

        flaw_finders   by the name of an operation, what finds the flaws of meaning in its document
        most_readings  the most readings that one request may carry
        """
        self._catalogue, self._ledger, self._bodies, self._gate = catalogue, ledger, policy.bodies, policy.gate
        self._flaw_finders, self._most_readings = flaw_finders, most_readings
        self._inputs: dict[BaseRouteHandler, HandlerInput] = {}

    async def __call__(self, request: StrictRequest) -> None:
        """Read the request.

        Raises StateError where what the path names does not exist; RefusalError, NotJsonError or FlawedDocumentError for what
        is wrong with the request itself.
        """
        handler = request.route_handler
        declared = self._inputs.get(handler) or self._input_of(handler)
        operation, names = declared.operation, request.path_params
        query = request.scope["query_string"] if operation.is_strict else b""
        is_named = bool(names) and not operation.creates_what_path_names
        # Existence first, at the price of one query: a caller with a wrong path should not mend its body before seeing that.
        if is_named and (operation.takes_body or query):
            await check_there(self._catalogue, {name: str(text) for name, text in names.items()})
        if operation.takes_body:
            await self._receive_body(request, operation)
        try:
            if query:
                check_query(query, declared.parameters)
            if declared.document:
                exchange_of(request.scope).document = await declared.document.read(
                    request, declared.find_flaws, self._most_readings
                )
        except (FlawedDocumentError, NotJsonError):
            # A lot that does not exist is 404 rather than 422. Its row is read only here: a request without flaws reads it in
            # the transaction of its use case anyway.
            if is_named and "lot" in names:
                await self._ledger.row(names["lot"])
            raise

    async def _receive_body(self, request: StrictRequest, operation: Operation) -> None:
        """Receive the whole body; a long one waits for its turn, which ends with the request (`Gate.leave`)."""
        request.raw_body = await self._bodies.receive(request, operation)
        if len(request.raw_body) > LONG_BODY:
            exchange_of(request.scope).is_long = True
            await self._gate.begin_long()

    def _input_of(self, handler: BaseRouteHandler) -> HandlerInput:
        operation = operation_of(handler)
        document = handler.resolve_data_dto() if isinstance(handler, HTTPRouteHandler) else None
        strict = document if document is not None and issubclass(document, StrictDTO) else None
        # Determined once per handler: `parameters_of` walks the whole signature, and every check passes here.
        declared = HandlerInput(operation, strict, self._flaw_finders.get(operation.name), parameters_of(handler))
        return self._inputs.setdefault(handler, declared)
