"""The route of replaying: a verdict that is kept, judged again from what is kept with it."""

from service.api import ledger_examples as examples
from service.api.handlers import replaying as does
from service.api.problems import OK
from service.api.replaying_documents import ReplayShown
from service.api.routes.closing import OF_A_LOT, VERDICT
from service.api.routes.judging import judged_example
from service.api.routing import Example, Reply, Route
from service.ports import Scope


def replaying_routes() -> tuple[Route, ...]:
    """Replaying."""
    verdict = judged_example("kept", by_grade=True).document
    agreed = {"agrees": True, "differences": [], "engine": {"then": verdict["engine"], "now": verdict["engine"]}}
    shown = {"lot": examples.LOT, "number": 1, **agreed, "verdict": verdict}
    return (
        Route(
            method="POST",
            path=f"{VERDICT}/replay",
            operation_id="replayVerdict",
            scope=Scope.JUDGE,
            tag="lots",
            summary="Judge again what a verdict rests on",
            description="From the evidence that is kept, by the revision of then, withdrawn or not, and by the rules of now. "
            "Outcome, numbers, codes, parameters and pointers are compared, wording is not. The kept verdict stays as it is, "
            "whatever comes of it; nothing is recorded.",
            handler=does.replay_verdict,
            replies=[Reply(OK, "What came of it.", ReplayShown, [Example("agrees", shown)])],
            refusals=OF_A_LOT,
        ),
    )
