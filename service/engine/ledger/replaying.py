"""A verdict that is kept, judged again from the evidence that is kept with it."""

from collections.abc import Sequence
from typing import NamedTuple

import msgspec
from msgspec import UNSET, UnsetType

from service.engine import ENGINE
from service.engine.documents import Difference, Evidence, Flaw, FlawedDocumentError, differences
from service.engine.grade import CompiledGrade
from service.engine.ledger.judged import judge_to_store

MAY_DIFFER = frozenset({"engine", "text", "formula", "source"})
"""Members of a verdict in which two may differ and yet agree: by which rules they were made, told apart, and wording."""
OF_MISSING = "/missing"
"""How the pointer ends to what a finding, or a reason, lists of a short sample."""
_evidence = msgspec.json.Decoder(Evidence).decode


class Engines(NamedTuple):
    """The numbers of the rules by which a lot was judged, and is judged now."""

    then: str | UnsetType
    """UNSET where the verdict that is kept does not say."""
    now: str


class Replay(NamedTuple):
    """What comes of judging again."""

    differences: Sequence[Difference]
    """Of the kept verdict and the one of now, with pointers into them."""
    flaws: Sequence[Flaw]
    """Why the evidence can't be judged now, with pointers below /evidence; then there is nothing to compare."""
    engine: Engines
    verdict: bytes
    """The one of now; empty where there is none."""

    @property
    def agrees(self) -> bool:
        """Whether outcome, numbers, codes and pointers are the same."""
        return not self.differences and not self.flaws


def replay(grade: CompiledGrade, code: str, revision: int, evidence: bytes, verdict: bytes) -> Replay:
    """What the evidence that is kept comes to now, beside the verdict that is kept.

    code, revision   of the grade, by which the lot was judged

    What was altered since in either is told as a difference or as a flaw, and raises nothing.
    """
    kept = _read(verdict)
    engine = Engines(_engine_of(kept), ENGINE)
    try:
        judged = judge_to_store(grade, code, revision, _evidence(evidence))
    except FlawedDocumentError as error:
        return Replay((), [flaw.below("/evidence") for flaw in error.flaws], engine, b"")
    except msgspec.DecodeError as error:
        return Replay((), [Flaw("kept-not-readable", f"What is kept is no evidence: {error}.", "/evidence")], engine, b"")
    return Replay(compared(kept, msgspec.json.decode(judged.document)), (), engine, judged.document)


def compared(kept: object, now: object) -> Sequence[Difference]:
    """Where two verdicts differ in outcome, numbers, codes or pointers: in all but wording and the number of the rules.

    Verdicts were recorded that did not list all that a short sample lacks, or none of it: what is listed more now is no
    difference.
    """
    return [each for each in differences(kept, now, but=MAY_DIFFER) if not _lists_more(each)]


def _lists_more(difference: Difference) -> bool:
    """Whether it is a `missing` of which each one that was listed is listed now."""
    then, now = [] if difference.then is UNSET else difference.then, difference.now
    if not (difference.at.endswith(OF_MISSING) and isinstance(then, list) and isinstance(now, list)):
        return False
    return all(each in now for each in then)


def _read(document: bytes) -> object:
    """The document; UNSET where it is none."""
    try:
        found: object = msgspec.json.decode(document)
    except msgspec.DecodeError:
        return UNSET
    return found


def _engine_of(kept: object) -> str | UnsetType:
    engine = kept.get("engine") if isinstance(kept, dict) else None
    return engine if isinstance(engine, str) else UNSET
