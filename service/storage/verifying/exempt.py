"""Columns that `verify` does not compare, each with the reason."""

from collections.abc import Mapping

NOBODY = "No name, as rows have from before there were keys, is read as `local`; the loss of any other name is found."
EXEMPT_COLUMNS: Mapping[str, str] = {
    "key_uses.key": "When a key was last used is a note for who cleans up, made outside the journal; no decision reads it.",
    "key_uses.used_at": "The same note: it is shown in the list of keys, and a key is good or not whatever it says.",
    "revisions.author=NULL": NOBODY,
    "releases.released_by=NULL": NOBODY,
    "withdrawals.withdrawn_by=NULL": NOBODY,
}
"""Reasons by `table.column`, or by `table.column=value` for one altered value.

Every other alteration of any column is found by `verify`, or refused by the database.
"""
