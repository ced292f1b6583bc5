"""An application that nobody asks anything: its operations, and the document that it serves."""

from collections.abc import Mapping
from typing import Any

from litestar.handlers import HTTPRouteHandler

from service.api.document.document import document, handlers_of
from service.app import create_app
from service.settings import Settings

APPLICATION = create_app(Settings(database_url="sqlite:///never-made.db"))
HANDLERS: Mapping[str, HTTPRouteHandler] = handlers_of(APPLICATION)
"""By the operation's name; those alone that the document shows."""


def the_document() -> Any:
    """The document, made anew."""
    return document(APPLICATION)
