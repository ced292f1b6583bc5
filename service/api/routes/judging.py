"""The routes that judge, review, and tell the vocabularies."""

from collections.abc import Mapping
from functools import cache
from typing import Any

import msgspec
from msgspec.structs import replace

from service.api import examples
from service.api.documents import CharacteristicList, FaultList, ReadingToCheck, UnitList
from service.api.handlers.judging import check_reading, draw_lot, grade_lot, judge_lot, review_specification
from service.api.handlers.vocabularies import (
    list_characteristics,
    list_faults,
    list_units,
    shown_characteristics,
    shown_units,
)
from service.api.problems import OK
from service.api.routing import Body, Example, Reply, Route
from service.engine.compilation import CompiledGrade, compile_specification
from service.engine.drawing import what_to_draw
from service.engine.draws import ToDraw
from service.engine.evidence import Check, Evidence, LotToDraw
from service.engine.faults import FAULTS
from service.engine.grading import Gradings, in_order
from service.engine.judging import given, judge, judge_given, judge_reading
from service.engine.specification import Specification
from service.engine.verdict import CheckAnswer, Verdict
from service.ports import Scope
from service.usecases.drawing import DrawRequest
from service.usecases.grading import LotToGrade
from service.usecases.judging import LotToJudge
from service.usecases.reviewing import Review, review


@cache
def example_grade() -> CompiledGrade:
    """The grade of the examples, by which the answers that are shown are worked out."""
    return compile_specification(msgspec.convert(examples.SPECIFICATION, Specification))


def _checked(name: str, check: object) -> Example:
    """What the service answers to a check: made by the engine, so that it can't be out of date."""
    return Example(name, msgspec.to_builtins(judge_reading(example_grade(), msgspec.convert(check, Check), 1)))


def _checked_in_lot(name: str, check: Mapping[str, object]) -> Example:
    """The same of a lot in which one reading is outside already."""
    by_grade = {"grade": examples.GRADE, **{name: value for name, value in check.items() if name != "lot"}}
    answer = judge_reading(example_grade(), msgspec.convert(by_grade, Check), 1, {"weak-places": 1})
    return Example(name, msgspec.to_builtins(replace(answer, lot=str(check["lot"]))))


def judged_example(name: str, *, by_grade: bool) -> Example:
    """The verdict on the example's lot, made by the engine too."""
    evidence = msgspec.convert(examples.EVIDENCE, Evidence)
    named = (examples.GRADE, 1) if by_grade else ()
    return Example(name, msgspec.to_builtins(judge(example_grade(), evidence, *named)))


def _graded(name: str) -> Example:
    lot = given(msgspec.convert(examples.EVIDENCE, Evidence))
    verdicts = [judge_given(example_grade(), lot, examples.GRADE, 1)]
    found = Gradings(lot=lot.evidence.lot.id, evidence=lot.digest, gradings=in_order(verdicts))
    return Example(name, msgspec.to_builtins(found))


def _drawn(name: str, request: Mapping[str, Any], *, by_grade: bool) -> Example:
    lot = msgspec.convert(request["lot"], LotToDraw)
    named = (examples.GRADE, 1) if by_grade else ()
    return Example(name, msgspec.to_builtins(what_to_draw(example_grade(), lot, *named)))


def _reviewed(name: str, document: object) -> Example:
    return Example(name, msgspec.to_builtins(review(msgspec.convert(document, Specification))))


def judging_routes() -> tuple[Route, ...]:
    """Checks, verdicts, reviews, vocabularies."""
    return (
        Route(
            method="POST",
            path="/v1/checks",
            operation_id="checkReading",
            scope=Scope.CHECK,
            tag="judging",
            summary="Judge one reading",
            description="Whether a reading is within the limits that the grade puts on single readings. It never passes where "
            "there are none; a requirement on means stands under `with_others` with the margin that the reading by itself "
            "would have. Without `revision`, the revision in force now is taken, and the answer names it. With `lot` in place "
            "of `grade`, the lot's own revision judges, and its readings that are outside already count against what may be: "
            "those that this replica has recorded, and those that others had recorded half a second ago.",
            handler=check_reading,
            body=Body(
                ReadingToCheck,
                [
                    Example("single-limit", examples.CHECK),
                    Example("mean-only", examples.CHECK_OF_A_MEAN),
                    Example("of-a-lot", examples.CHECK_OF_A_LOT),
                ],
            ),
            replies=[
                Reply(
                    OK,
                    "What the reading comes to.",
                    CheckAnswer,
                    [
                        _checked("single-limit", examples.CHECK),
                        _checked("mean-only", examples.CHECK_OF_A_MEAN),
                        _checked_in_lot("of-a-lot", examples.CHECK_OF_A_LOT),
                    ],
                    headers=("X-Catalogue-Stale",),
                )
            ],
            refusals=("not-ready",),
            is_only_counted=True,
        ),
        Route(
            method="POST",
            path="/v1/verdicts",
            operation_id="judgeLot",
            scope=Scope.JUDGE,
            tag="judging",
            summary="Judge a lot",
            description="The verdict on a lot, with reasons for every finding. Nothing is stored: the same question gets the "
            "same answer, byte for byte. A verdict is on the specimens tested; a breaking force is not a working load.",
            handler=judge_lot,
            body=Body(
                LotToJudge, [Example("by-grade", examples.BY_GRADE), Example("by-specification", examples.BY_SPECIFICATION)]
            ),
            replies=[
                Reply(
                    OK,
                    "The verdict.",
                    Verdict,
                    [judged_example("by-grade", by_grade=True), judged_example("by-specification", by_grade=False)],
                    headers=("X-Catalogue-Stale",),
                )
            ],
            refusals=("not-ready",),
        ),
        Route(
            method="POST",
            path="/v1/draws",
            operation_id="drawLot",
            scope=Scope.JUDGE,
            tag="judging",
            summary="Say what to draw from a lot",
            description="Before a lot is tested: for each requirement how many packages to pull and how many readings to take, "
            "and by how many it is accepted or rejected. One pull of `packages` serves all first draws. Where a sample has no "
            "size for this lot, the requirement stands under `undecided` with the reason.",
            handler=draw_lot,
            body=Body(
                DrawRequest,
                [Example("by-grade", examples.TO_DRAW), Example("by-specification", examples.TO_DRAW_BY_SPECIFICATION)],
            ),
            replies=[
                Reply(
                    OK,
                    "What to draw.",
                    ToDraw,
                    [
                        _drawn("by-grade", examples.TO_DRAW, by_grade=True),
                        _drawn("by-specification", examples.TO_DRAW_BY_SPECIFICATION, by_grade=False),
                    ],
                    headers=("X-Catalogue-Stale",),
                )
            ],
            refusals=("not-ready",),
        ),
        Route(
            method="POST",
            path="/v1/gradings",
            operation_id="gradeLot",
            scope=Scope.JUDGE,
            tag="judging",
            summary="Judge a lot by several grades",
            description="Which grade a lot is sold as: the verdict by every grade in force of an article, or by those listed, "
            "the best one first: passes, then undecided, then failures, and among them by the least margin relative to its "
            "limit. A grade that the evidence does not fit stands under `not_judged`.",
            handler=grade_lot,
            body=Body(LotToGrade, [Example("by-article", examples.BY_ARTICLE), Example("by-list", examples.BY_LIST)]),
            replies=[
                Reply(
                    OK,
                    "The verdicts, the best one first.",
                    Gradings,
                    [_graded("by-article"), _graded("by-list")],
                    headers=("X-Catalogue-Stale",),
                )
            ],
            refusals=("not-ready",),
        ),
        Route(
            method="POST",
            path="/v1/reviews",
            operation_id="reviewSpecification",
            scope=Scope.AUTHOR,
            tag="judging",
            summary="Look a specification over",
            description="Every flaw of a specification, and advice on one without. Any JSON is answered; nothing is stored.",
            handler=review_specification,
            body=Body(
                Specification,
                [Example("without-flaws", examples.SPECIFICATION), Example("with-flaws", examples.FLAWED)],
                any_json=True,
            ),
            replies=[
                Reply(
                    OK,
                    "The flaws and the advice; both lists may be empty.",
                    Review,
                    [_reviewed("without-flaws", examples.SPECIFICATION), _reviewed("with-flaws", examples.FLAWED)],
                )
            ],
        ),
        Route(
            method="GET",
            path="/v1/characteristics",
            operation_id="listCharacteristics",
            scope=Scope.READ,
            tag="vocabularies",
            summary="The characteristics that have a name",
            description="The names of the vocabulary, what they mean, and the units that their limits and readings may be in.",
            handler=list_characteristics,
            replies=[
                Reply(
                    OK,
                    "The vocabulary.",
                    CharacteristicList,
                    [Example("vocabulary", {"characteristics": msgspec.to_builtins(shown_characteristics()[:2])})],
                )
            ],
        ),
        Route(
            method="GET",
            path="/v1/faults",
            operation_id="listFaults",
            scope=Scope.READ,
            tag="vocabularies",
            summary="The faults that have a name",
            description="What an inspector sees when a package is unwound, by the names that counts and grades call it. "
            "A grade may name others of its own.",
            handler=list_faults,
            replies=[
                Reply(
                    OK,
                    "The vocabulary of faults.",
                    FaultList,
                    [Example("vocabulary", {"faults": msgspec.to_builtins(FAULTS[:2])})],
                )
            ],
        ),
        Route(
            method="GET",
            path="/v1/units",
            operation_id="listUnits",
            scope=Scope.READ,
            tag="vocabularies",
            summary="The units",
            description="The closed table of units, with their codes in UCUM and UN/CEFACT Rec 20 and their exact factors.",
            handler=list_units,
            replies=[
                Reply(OK, "The table.", UnitList, [Example("units", {"units": msgspec.to_builtins(shown_units()[:2])})]),
            ],
        ),
    )
