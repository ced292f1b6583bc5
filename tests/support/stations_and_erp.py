"""What Schemathesis sends in sequences beside what it makes up: bodies as stations and an ERP send them."""

from collections.abc import Callable, Mapping
from typing import Any

import schemathesis
from hypothesis import strategies as st

from tests.support import examples
from tests.support.rows_as_they_are import as_they_are

__all__ = ["as_they_are", "before_generate_case"]
Body = dict[str, Any]
Case = schemathesis.Case[Any]
FORCE, RUNNAGE = examples.EVIDENCE["series"]
LOTS = st.integers(min_value=0, max_value=999).map("L-{}".format)
FEW = st.integers(min_value=0, max_value=2)
"""Ids are few, so that much is sent again, and what is to be struck is there."""


def _readings(number: int) -> Body:
    """All that the example's lot needs is in one batch, and further readings in others."""
    return {"batch": f"B{number}", "series": [FORCE, RUNNAGE]}


def _strike(number: int, batch: int) -> Body:
    return {**examples.STRIKE, "id": f"S{number}", "of": f"B{batch}", "at": [f"/series/0/values/{number}"]}


def _correction(number: int) -> Body:
    return {"id": f"C{number}", "reason": "These were left out.", "series": [FORCE]}


def _disposition(number: int) -> Body:
    return {"id": f"D{number}", "disposition": "hold", "reason": "The buyer is to be asked."}


BODIES: Mapping[str, st.SearchStrategy[Body]] = {
    "openLot": st.just({"grade": examples.GRADE, "size": 480}),
    "recordReadings": FEW.map(_readings),
    "strike": st.tuples(FEW, FEW).map(lambda numbers: _strike(*numbers)),
    "closeLot": st.just({}),
    "correctLot": FEW.map(_correction),
    "grantConcession": st.just(dict(examples.CONCESSION)),
    "disposeOfLot": FEW.map(_disposition),
    "makeClaim": st.just(dict(examples.CLAIM)),
    "settleClaim": st.just(dict(examples.SETTLEMENT)),
}
"""By operation."""


@schemathesis.hook
def before_generate_case(context: schemathesis.HookContext, strategy: st.SearchStrategy[Case]) -> st.SearchStrategy[Case]:
    """Mostly with such a body, where the operation takes one; a lot that is opened is mostly a new one."""
    assert context.operation
    operation = context.operation.definition.raw["operationId"]
    bodies = BODIES.get(operation)
    return strategy if bodies is None else _with_bodies(operation, strategy, bodies)


@st.composite
def _with_bodies(
    draw: Callable[[st.SearchStrategy[Any]], Any],
    operation: str,
    strategy: st.SearchStrategy[Case],
    bodies: st.SearchStrategy[Body],
) -> Case:
    case: Case = draw(strategy)
    if draw(st.integers(min_value=0, max_value=9)) < 8:
        case.body, case.media_type = draw(bodies), "application/json"
        case.query.clear()
        if operation == "openLot":
            case.path_parameters["lot"] = draw(LOTS)
    return case
