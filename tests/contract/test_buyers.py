"""Three whole specifications of buyers, written as grades, with lots that pass, fail and stay undecided, judged by hand."""

import json
import runpy
from pathlib import Path
from typing import Any

import pytest

from tests.support.judging import flaws_of, judged

FOLDER = Path(__file__).parents[2] / "openapi" / "buyers"
Document = dict[str, Any]
differences = runpy.run_path(str(FOLDER.parent / "vectors" / "run.py"))["differences"]
"""As an integrator's runner compares."""


def lots() -> list[Any]:
    """(specification, lot) of each file."""
    found = []
    for path in sorted(FOLDER.glob("*.json")):
        document = json.loads(path.read_text(encoding="utf-8"))
        for lot in document["lots"]:
            identity = f"{path.stem}-{lot['expected']['outcome']}-{lot['evidence']['lot']['id']}"
            found.append(pytest.param(document["specification"], lot, id=identity))
    return found


@pytest.mark.parametrize(("specification", "lot"), lots())
def test_a_lot_comes_out_as_judged_by_hand(specification: Document, lot: Document) -> None:
    """What is worked out beside each lot, with pencil and paper, is what the service says."""
    assert [] == list(differences(lot["expected"], judged(specification, lot["evidence"]), ""))


@pytest.mark.parametrize("path", sorted(FOLDER.glob("*.json")), ids=lambda path: path.stem)
def test_a_specification_has_no_flaws_and_a_lot_of_each_outcome(path: Path) -> None:
    """A reader sees what passes, what fails and what can't be said."""
    document = json.loads(path.read_text(encoding="utf-8"))

    assert [] == flaws_of(document["specification"])
    assert {"pass", "fail", "undecided"} <= {lot["expected"]["outcome"] for lot in document["lots"]}


def test_there_are_three_specifications() -> None:
    """A sisal baler twine, a three-strand rope, a binder twine in the units of the United States."""
    assert ["binder-twine", "sisal-baler-twine", "three-strand-rope"] == sorted(path.stem for path in FOLDER.glob("*.json"))
