"""The examples that the OpenAPI document shows, by what they are."""

from collections.abc import Mapping
from typing import Any

from service.api.document.completing import examples

_ALL = examples()


def _sent(operation: str, name: str) -> Any:
    """A body."""
    return _ALL[operation]["body"][name]


def _answered(operation: str, name: str) -> Any:
    """An answer with the status 200."""
    return _ALL[operation]["answers"]["200"][name]


SPECIFICATION: Mapping[str, Any] = _sent("addDraft", "baler-twine")
FLAWED: Mapping[str, Any] = _sent("reviewSpecification", "with-flaws")
REASON: str = _sent("withdrawRevision", "withdrawn")["reason"]
CHECK: Mapping[str, Any] = _sent("checkReading", "single-limit")
CHECK_OF_A_MEAN: Mapping[str, Any] = _sent("checkReading", "mean-only")
CHECK_OF_A_LOT: Mapping[str, Any] = _sent("checkReading", "of-a-lot")
BY_GRADE: Mapping[str, Any] = _sent("judgeLot", "by-grade")
BY_SPECIFICATION: Mapping[str, Any] = _sent("judgeLot", "by-specification")
EVIDENCE: Mapping[str, Any] = BY_GRADE["evidence"]
BY_LIST: Mapping[str, Any] = _sent("gradeLot", "by-list")
TO_DRAW: Mapping[str, Any] = _sent("drawLot", "by-grade")
TO_DRAW_BY_SPECIFICATION: Mapping[str, Any] = _sent("drawLot", "by-specification")
PLAN_BY_ATTRIBUTES: Mapping[str, Any] = _sent("showSamplingPlan", "by-attributes")
OPENING: Mapping[str, Any] = _sent("openLot", "lot")
ATTRIBUTES: Mapping[str, Any] = _sent("addAttributes", "invoice")
MOVE: Mapping[str, Any] = _sent("moveLot", "newer")
READINGS: Mapping[str, Any] = _sent("recordReadings", "two-readings")
STRIKE: Mapping[str, Any] = _sent("strike", "slipped")
CORRECTION: Mapping[str, Any] = _sent("correctLot", "mistyped")
TESTER: Mapping[str, Any] = _sent("putInstrument", "tester")
CLAIM: Mapping[str, Any] = _sent("makeClaim", "weaker")
SETTLEMENT: Mapping[str, Any] = _sent("settleClaim", "shared")
CONCESSION: Mapping[str, Any] = _sent("grantConcession", "release")
HOLD: Mapping[str, Any] = _sent("disposeOfLot", "hold")
RELEASE: Mapping[str, Any] = _sent("disposeOfLot", "release")
DECISION: Mapping[str, Any] = _sent("decideInspection", "normal")
GRADE: str = CHECK["grade"]
LOT: str = _answered("showLot", "lot")["lot"]
BATCH: str = READINGS["batch"]
KEY: str = _answered("revokeKey", "revoked")["key"]
INSTRUMENT: str = _answered("showInstrument", "tester")["instrument"]
LINE: str = _answered("showSwitching", "tightened")["line"]
CLAIM_NAME: str = _answered("settleClaim", "settled")["claim"]
CONCESSION_NAME: str = _answered("grantConcession", "granted")["concession"]
CHARACTERISTIC = "breaking_force"
