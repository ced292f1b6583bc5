"""The routes of dispositions: what persons decide on a lot, and the concessions that allow what its verdict does not."""

from typing import Annotated

from msgspec import Meta

from service.api import disposing_examples as examples
from service.api.disposing_documents import ConcessionList, ConcessionShown, DispositionList, DispositionShown
from service.api.handlers import disposing as does
from service.api.links import TO_A_CONCESSION, TO_A_DISPOSITION
from service.api.problems import CREATED, OK
from service.api.requests import Parameter
from service.api.routes.catalogue import LIMIT
from service.api.routing import Body, Example, Reply, Route
from service.engine.ledger.disposing import Concession, Disposition
from service.ports import Scope

LOT = "/v1/lots/{lot}"
CONCESSIONS, DISPOSITIONS = f"{LOT}/concessions", f"{LOT}/dispositions"
After = Annotated[int, Meta(ge=0, le=999_999_999)]
OF_A_LOT = ("not-found", "not-ready")
NO_CERTIFICATE = (
    "It is a decision of the mill on its own goods, no certificate for lifting, for life-safety use or of legal metrology, "
    "which follow local law and accredited practice."
)


def disposing_routes() -> tuple[Route, ...]:
    """Concessions, and dispositions."""
    return (*_concession_routes(), *_disposition_routes())


def _concession_routes() -> tuple[Route, ...]:
    granted = [Example("granted", examples.GRANTED)]
    listed = {"lot": examples.GRANTED["lot"], "concessions": [examples.GRANTED]}
    return (
        Route(
            method="GET",
            path=CONCESSIONS,
            operation_id="listConcessions",
            scope=Scope.READ,
            tag="lots",
            summary="List the concessions of a lot",
            description="In the order in which they were granted.",
            handler=does.list_concessions,
            parameters=[Parameter("after", After, "Only those behind the first so many.", 0), LIMIT],
            replies=[Reply(OK, "Concessions.", ConcessionList, [Example("one", listed)])],
            refusals=OF_A_LOT,
        ),
        Route(
            method="GET",
            path=f"{CONCESSIONS}/{{concession}}",
            operation_id="showConcession",
            scope=Scope.READ,
            tag="lots",
            summary="Show a concession",
            description="By whose authority it was granted, why, and on which verdict.",
            handler=does.show_concession,
            replies=[Reply(OK, "The concession.", ConcessionShown, granted)],
            refusals=OF_A_LOT,
        ),
        Route(
            method="PUT",
            path=f"{CONCESSIONS}/{{concession}}",
            operation_id="grantConcession",
            scope=Scope.DISPOSE,
            tag="lots",
            summary="Grant a concession",
            description="That the lot may be released although no verdict passes it, or go out as another grade that it does "
            "not meet. It counts for the lot as its newest verdict has it: after a later verdict another one is needed. Who "
            f"grants it does not dispose of the lot by it. Sent again it is answered again. {NO_CERTIFICATE}",
            handler=does.grant_concession,
            body=Body(Concession, [Example("release", examples.CONCESSION)]),
            replies=[
                Reply(OK, "It was granted before.", ConcessionShown, granted, links=TO_A_CONCESSION),
                Reply(CREATED, "It is granted.", ConcessionShown, granted, headers=("Location",), links=TO_A_CONCESSION),
            ],
            refusals=("not-found", "content-differs", "not-ready"),
        ),
    )


def _disposition_routes() -> tuple[Route, ...]:
    disposed = [Example("release", examples.DISPOSED)]
    asked = [Example("hold", examples.HOLD), Example("release", examples.RELEASE), Example("regrade", examples.REGRADE)]
    listed = {"lot": examples.DISPOSED["lot"], "dispositions": [examples.DISPOSED]}
    return (
        Route(
            method="GET",
            path=DISPOSITIONS,
            operation_id="listDispositions",
            scope=Scope.READ,
            tag="lots",
            summary="List the dispositions of a lot",
            description="In the order in which they were recorded. The last one counts.",
            handler=does.list_dispositions,
            parameters=[Parameter("after", After, "Only dispositions with a greater number.", 0), LIMIT],
            replies=[Reply(OK, "Dispositions.", DispositionList, [Example("one", listed)])],
            refusals=OF_A_LOT,
        ),
        Route(
            method="POST",
            path=DISPOSITIONS,
            operation_id="disposeOfLot",
            scope=Scope.DISPOSE,
            tag="lots",
            summary="Dispose of a lot",
            description="Says what is done with the lot from now on, under an id of your own, and on which verdict that rests. "
            "A lot that passes may be released. It may be regraded to a grade whose revision in force it passes by the "
            "evidence of its newest verdict. Anything else that goes out takes a concession that another person granted. "
            f"Hold, rework and scrap are always open. {NO_CERTIFICATE}",
            handler=does.dispose,
            body=Body(Disposition, asked),
            replies=[
                Reply(OK, "It was recorded before.", DispositionShown, disposed, links=TO_A_DISPOSITION),
                Reply(
                    CREATED,
                    "It is recorded, and counts from now on.",
                    DispositionShown,
                    disposed,
                    links=TO_A_DISPOSITION,
                ),
            ],
            refusals=("not-found", "concession-needed", "content-differs", "second-person-needed", "not-ready"),
        ),
    )
