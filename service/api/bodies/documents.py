"""Strict decoding of the documents that handlers take as `data`: a DTO for every Struct that forbids unknown fields."""

from collections.abc import Awaitable, Callable, Generator
from typing import Any, ClassVar, Generic, TypeVar

from litestar.dto import AbstractDTO, DTOFieldDefinition
from litestar.openapi.spec import Reference, Schema
from litestar.plugins import SerializationPlugin
from litestar.typing import FieldDefinition
from msgspec import Struct

from service.api.bodies.receiving import StrictRequest
from service.api.exchanges import exchange_of
from service.api.strict.decoding import Shape, decode_and_check, decode_async
from service.engine.documents import Flaw, FlawedDocumentError

T = TypeVar("T")
FindFlaws = Callable[[Any], Awaitable[object]]
"""Raises FlawedDocumentError with the flaws of meaning in a document; must not change anything."""


ITEMS_PER_READING = 3
"""Items of lists for one reading: its value, its package and its remark."""
OTHER_ITEMS = 100_000
"""Items allowed for all that a document has besides readings; real ones have at most a tenth as many."""


def check_items(body: bytes, most_readings: int) -> None:
    """Raise FlawedDocumentError where a body has more items than its readings can have; counted before anything is decoded."""
    most = ITEMS_PER_READING * most_readings + OTHER_ITEMS
    # Commas bound the items from above, and a body shorter than the bound can't have as many: most bodies are never counted.
    if len(body) > most and body.count(b",") > most:
        text = f"The body has more than {most} items, and at most {most_readings} readings are taken at a time."
        raise FlawedDocumentError(
            [Flaw("too-many-readings", f"{text} Send them in several requests, or have MARKERYARN_MOST_READINGS raised.", "")]
        )


class StrictDTO(AbstractDTO[T], Generic[T]):
    """A DTO that reads the body by the strict decoder: all flaws at once, each with its JSON Pointer."""

    shape: ClassVar[Shape[Any]]

    @classmethod
    async def read(
        cls, request: StrictRequest, find_flaws: FindFlaws | None, most_readings: int
    ) -> Any:  # of the handler's type
        """Decode the body of a request.

        find_flaws     finds the flaws of meaning, reported beside those of shape
        most_readings  the most readings of one request; a body with more items than these can have is not decoded

        Raises NotJsonError, FlawedDocumentError.
        """
        check_items(request.raw_body, most_readings)
        return await (
            decode_and_check(find_flaws, request.raw_body, cls.shape)
            if find_flaws
            else decode_async(request.raw_body, cls.shape)
        )

    def decode_bytes(self, value: bytes) -> Any:
        """The document that `read` has decoded before: Litestar calls this synchronously, so a long body would block others."""
        exchange = exchange_of(self.asgi_connection.scope)
        document, exchange.document = exchange.document, None
        return document

    @classmethod
    def create_for_field_definition(
        cls, field_definition: FieldDefinition, handler_id: str, backend_cls: type[Any] | None = None
    ) -> None:
        """Do nothing: this DTO needs no transfer model."""

    @classmethod
    def create_openapi_schema(
        cls,
        field_definition: FieldDefinition,
        handler_id: str,
        schema_creator: Any,  # Litestar's own
    ) -> Reference | Schema:
        """A reference to the schema among the components, which msgspec generates."""
        return Reference(ref=f"#/components/schemas/{cls.shape.type.__name__}")

    @classmethod
    def generate_field_definitions(cls, model_type: type[Any]) -> Generator[DTOFieldDefinition, None, None]:
        """No fields, as msgspec decodes the document as a whole."""
        yield from ()

    @classmethod
    def detect_nested_field(cls, field_definition: FieldDefinition) -> bool:
        """False: no field is handled by this DTO."""
        return False


class StrictDocuments(SerializationPlugin):
    """Litestar plugin that supplies StrictDTO for every Struct that forbids unknown fields, so that no handler names a DTO."""

    def supports_type(self, field_definition: FieldDefinition) -> bool:
        """Whether the annotation is a Struct that forbids unknown fields."""
        type_ = field_definition.annotation
        return isinstance(type_, type) and issubclass(type_, Struct) and bool(type_.__struct_config__.forbid_unknown_fields)

    def create_dto_for_type(self, field_definition: FieldDefinition) -> type[AbstractDTO[Any]]:
        """A StrictDTO subclass for this Struct."""
        type_ = field_definition.annotation
        return type(f"Strict{type_.__name__}", (StrictDTO,), {"model_type": type_, "shape": Shape(type_)})
