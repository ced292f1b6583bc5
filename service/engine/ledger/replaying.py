"""Replay of a stored verdict: the evidence stored with it is judged again, and both verdicts are compared."""

from collections.abc import Sequence
from typing import NamedTuple

import msgspec
from msgspec import UNSET, UnsetType

from service.engine import ENGINE
from service.engine.documents import Difference, Evidence, Flaw, FlawedDocumentError, differences
from service.engine.grade import CompiledGrade
from service.engine.ledger.judged import judge_to_store

# A member that only one of two verdicts has is a difference. Whoever adds a member to verdicts decides here what its absence
# from older ones means.
MAY_DIFFER = frozenset({"engine", "text", "formula", "source"})
"""Members of a verdict that are not compared: the number of the rules, which is reported separately, and wording."""
OF_MISSING = "/missing"
"""The end of a pointer to the list of readings that a finding or a reason lacks."""
_evidence = msgspec.json.Decoder(Evidence).decode


class Engines(NamedTuple):
    """The numbers of the rules by which the lot was judged then, and is judged now."""

    then: str | UnsetType
    """UNSET where the stored verdict does not state it."""
    now: str


class Replay(NamedTuple):
    """The result of judging stored evidence again."""

    differences: Sequence[Difference]
    """Differences between the stored verdict and the new one, with pointers into them."""
    flaws: Sequence[Flaw]
    """Why the evidence cannot be judged now, with pointers below /evidence; nothing is compared then."""
    engine: Engines
    verdict: bytes
    """The new verdict as JSON; empty where there is none."""

    @property
    def agrees(self) -> bool:
        """True where outcome, numbers, codes and pointers of both verdicts are the same."""
        return not self.differences and not self.flaws


def replay(grade: CompiledGrade, code: str, revision: int, evidence: bytes, verdict: bytes) -> Replay:
    """The verdict on stored evidence by today's rules, compared with the stored verdict.

    grade            the revision by which the lot was judged
    code, revision   its names
    evidence         as stored, JSON
    verdict          as stored, JSON

    Raises nothing where either was altered: that is reported as differences or as a flaw.
    """
    stored = _read(verdict)
    engine = Engines(_engine_of(stored), ENGINE)
    try:
        judged = judge_to_store(grade, code, revision, _evidence(evidence))
    except FlawedDocumentError as error:
        return Replay((), [flaw.below("/evidence") for flaw in error.flaws], engine, b"")
    except msgspec.DecodeError as error:
        return Replay(
            (), [Flaw("kept-not-readable", f"The stored evidence cannot be read: {error}.", "/evidence")], engine, b""
        )
    return Replay(compared(stored, msgspec.json.decode(judged.document)), (), engine, judged.document)


def compared(stored: object, now: object) -> Sequence[Difference]:
    """The differences of two verdicts in outcome, numbers, codes or pointers; not those in wording or number of the rules."""
    # Earlier releases recorded verdicts that listed only a part of the missing readings, or none of them.
    return [difference for difference in differences(stored, now, but=MAY_DIFFER) if not _lists_more(difference)]


def _lists_more(difference: Difference) -> bool:
    """True for a `missing` list that contains everything that it contained then."""
    then, now = [] if difference.then is UNSET else difference.then, difference.now
    if not (difference.at.endswith(OF_MISSING) and isinstance(then, list) and isinstance(now, list)):
        return False
    return all(item in now for item in then)


def _read(document: bytes) -> object:
    """The decoded document; UNSET where it is not JSON."""
    try:
        found: object = msgspec.json.decode(document)
    except msgspec.DecodeError:
        return UNSET
    return found


def _engine_of(stored: object) -> str | UnsetType:
    engine = stored.get("engine") if isinstance(stored, dict) else None
    return engine if isinstance(engine, str) else UNSET
