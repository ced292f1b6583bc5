"""Sentences may be reworded; nothing that a program goes by moves with them."""

import json
from pathlib import Path

from tests.contract.wordless import WORDLESS, bring_grades, wordless
from tests.support.within import service_within


def test_only_words_differ_from_the_committed_answers(tmp_path: Path) -> None:
    """Codes, parameters, places, figures and outcomes are what a client was written for."""
    with service_within(f"sqlite:///{tmp_path}/grades.db") as service:
        bring_grades(service)

        assert json.loads(WORDLESS.read_text(encoding="utf-8")) == wordless(service)
