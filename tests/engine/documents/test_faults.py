"""The names that faults have in the trade."""

import re

from service.engine.documents import FAULTS, FAULTS_BY_NAME

NAMES = (
    "slub thin_place thick_place splice knot snarl broken_strand high_strand loose_strand missing_yarn missing_marker_yarn "
    "wrong_marker_yarn dry_length stain mildew wrong_lay ribboned_wind crossed_wind collapsed_core wrong_label"
)


def test_what_an_inspector_sees_has_a_name() -> None:
    """Two mills that count the same fault call it by one word."""
    assert set(NAMES.split()) == set(FAULTS_BY_NAME)


def test_every_fault_fits_a_document_and_is_explained() -> None:
    """An inspector who is new to a word reads what it means."""
    assert len(FAULTS) == len(FAULTS_BY_NAME)
    for fault in FAULTS:
        assert re.fullmatch(r"[a-z][a-z0-9_]{0,62}", fault.name)
        assert fault.meaning[0].isupper()
        assert fault.meaning.endswith(".")
