"""Documents that handlers take as `data`, read strictly: a DTO for every Struct that forbids unknown members."""

from collections.abc import Awaitable, Callable, Generator
from typing import Any, ClassVar, Generic, TypeVar

from litestar.dto import AbstractDTO, DTOFieldDefinition
from litestar.openapi.spec import Reference, Schema
from litestar.plugins import SerializationPlugin
from litestar.typing import FieldDefinition
from msgspec import Struct

from service.api.bodies.receiving import StrictRequest
from service.api.exchanges import exchange_of
from service.api.strict.decoding import Shape, decode_and, decoded
from service.engine.documents import Flaw, FlawedDocumentError

T = TypeVar("T")
FindFlaws = Callable[[Any], Awaitable[object]]
"""Raises FlawedDocumentError with the flaws of meaning in a document, and changes nothing."""


ITEMS_A_READING = 3
"""Its number, its package and its remark."""
ITEMS_BESIDE = 100_000
"""Of all that a document has besides readings; it has a tenth as many at most."""


def check_items(body: bytes, most_readings: int) -> None:
    """Raise FlawedDocumentError where there are more items than so many readings can have: then none of them is read."""
    most = ITEMS_A_READING * most_readings + ITEMS_BESIDE
    if len(body) > most and body.count(b",") > most:
        text = f"The document has more than {most} items, and at most {most_readings} readings are taken at a time."
        raise FlawedDocumentError([Flaw("too-many-readings", f"{text} Send the rest apart, or have the limit raised.", "")])


class StrictDTO(AbstractDTO[T], Generic[T]):
    """Reads a body by the service's own decoder: every flaw of it at once, each with its pointer."""

    shape: ClassVar[Shape[Any]]

    @classmethod
    async def read(cls, request: StrictRequest, look: FindFlaws | None, most_readings: int) -> Any:  # of the handler's type
        """The document that the body writes.

        look           finds the flaws of meaning, which are told beside those of shape
        most_readings  of a request; who reads rows begins no more

        Raises NotJsonError, FlawedDocumentError.
        """
        check_items(request.whole, most_readings)
        return await (decode_and(look, request.whole, cls.shape) if look else decoded(request.whole, cls.shape))

    def decode_bytes(self, value: bytes) -> Any:
        """The document, which was read before: Litestar reads here without waiting, and a long body takes others' time."""
        exchange = exchange_of(self.asgi_connection.scope)
        document, exchange.document = exchange.document, None
        return document

    @classmethod
    def create_for_field_definition(
        cls, field_definition: FieldDefinition, handler_id: str, backend_cls: type[Any] | None = None
    ) -> None:
        """Nothing: there are no models to transfer from."""

    @classmethod
    def create_openapi_schema(
        cls,
        field_definition: FieldDefinition,
        handler_id: str,
        schema_creator: Any,  # Litestar's own
    ) -> Reference | Schema:
        """Where the schema is among the components, which msgspec makes."""
        return Reference(ref=f"#/components/schemas/{cls.shape.of.__name__}")

    @classmethod
    def generate_field_definitions(cls, model_type: type[Any]) -> Generator[DTOFieldDefinition, None, None]:
        """None."""
        yield from ()

    @classmethod
    def detect_nested_field(cls, field_definition: FieldDefinition) -> bool:
        """None is."""
        return False


class StrictDocuments(SerializationPlugin):
    """Every Struct that forbids unknown members is read strictly, so that no handler need name a DTO."""

    def supports_type(self, field_definition: FieldDefinition) -> bool:
        """Whether it is such a Struct."""
        of = field_definition.annotation
        return isinstance(of, type) and issubclass(of, Struct) and bool(of.__struct_config__.forbid_unknown_fields)

    def create_dto_for_type(self, field_definition: FieldDefinition) -> type[AbstractDTO[Any]]:
        """The DTO of this type."""
        of = field_definition.annotation
        return type(f"Strict{of.__name__}", (StrictDTO,), {"model_type": of, "shape": Shape(of)})
