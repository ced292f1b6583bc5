"""Documents written ahead: all that is alike from one to the next stands ready, as bytes, with blanks for what differs."""

from collections.abc import Sequence
from typing import Any

import msgspec

encoded = msgspec.json.Encoder().encode
"""What fills a blank: a value as msgspec writes it."""
_MARK = "\x01"
"""A character that no text of ours or of a caller's may hold."""
_ENCODED = encoded(_MARK)[1:-1]
TEXT = f"{_MARK}b"
"""A blank within a text."""
FIGURE: Any = msgspec.Raw(_ENCODED + b"b")
"""A blank in place of a number, or of anything else."""


def blanked(form: str) -> str:
    """A text to be filled in by `%`, as a text with blanks, each with its form: `%d.%01d N`."""
    return form.replace("%%", "\x02").replace("%", _MARK).replace("\x02", "%")


def template(document: object) -> bytes:
    """The document as msgspec writes it, to be filled in by `%` with one value for each blank, in the order of the document."""
    return encoded(document).replace(b"%", b"%%").replace(_ENCODED, b"%")


def parts(document: object) -> Sequence[bytes]:
    """What stands before, between and behind the blanks, none of which has a form: to be joined, in a third of the time."""
    return encoded(document).split(_ENCODED + b"b")
