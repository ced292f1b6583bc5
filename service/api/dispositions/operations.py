"""Declarations of the operations on concessions and dispositions, for the OpenAPI document, logs and access control."""

from service.api.dispositions.documents import ConcessionList, ConcessionShown, DispositionList, DispositionShown
from service.api.document.links import TO_A_CONCESSION, TO_A_DISPOSITION
from service.api.operations import Operation, Reply
from service.api.problems import CREATED, OK
from service.engine.ledger import Concession, Disposition
from service.ports.catalogue import Scope

LIST_CONCESSIONS = Operation(
    name="listConcessions",
    tag="lots",
    summary="List the concessions of a lot",
    description="In the order in which they were granted.",
    scope=Scope.READ,
    replies=(Reply(OK, "Concessions.", ConcessionList),),
    refusals=("not-found", "not-ready"),
)
SHOW_CONCESSION = Operation(
    name="showConcession",
    tag="lots",
    summary="Show a concession",
    description="By whose authority it was granted, why, and on which verdict.",
    scope=Scope.READ,
    replies=(Reply(OK, "The concession.", ConcessionShown),),
    refusals=("not-found", "not-ready"),
)
GRANT_CONCESSION = Operation(
    name="grantConcession",
    tag="lots",
    summary="Grant a concession",
    description=(
        "Permission to release the lot although no verdict passes it, or to send it out as another grade that it does not "
        "meet. It applies to the newest verdict; after a later verdict another concession is needed. Whoever grants it "
        "may not dispose of the lot by it. Sent again, the request is answered again. It is a decision of the mill on its "
        "own goods, not a certificate for lifting, for life-safety use or of legal metrology, which follow local law and "
        "accredited practice."
    ),
    scope=Scope.DISPOSE,
    body=Concession,
    replies=(
        Reply(OK, "It was granted before.", ConcessionShown, links=TO_A_CONCESSION),
        Reply(CREATED, "It is granted.", ConcessionShown, headers=("Location",), links=TO_A_CONCESSION),
    ),
    refusals=("not-found", "content-differs", "not-ready"),
)
LIST_DISPOSITIONS = Operation(
    name="listDispositions",
    tag="lots",
    summary="List the dispositions of a lot",
    description="In the order in which they were recorded. The last one counts.",
    scope=Scope.READ,
    replies=(Reply(OK, "Dispositions.", DispositionList),),
    refusals=("not-found", "not-ready"),
)
DISPOSE_OF_LOT = Operation(
    name="disposeOfLot",
    tag="lots",
    summary="Dispose of a lot",
    description=(
        "Records what is done with the lot from now on, under an id of your own, and the verdict on which that is based. A "
        "lot that passes can be released. It can be regraded to a grade whose revision in force it passes by the evidence "
        "of its newest verdict. Neither is allowed for a lot from a line whose acceptance is discontinued, until "
        "acceptance is resumed. Any other lot goes out only by a concession that another person granted. Hold, rework and "
        "scrap are always allowed. It is a decision of the mill on its own goods, not a certificate for lifting, for "
        "life-safety use or of legal metrology, which follow local law and accredited practice."
    ),
    scope=Scope.DISPOSE,
    body=Disposition,
    replies=(
        Reply(OK, "It was recorded before.", DispositionShown, links=TO_A_DISPOSITION),
        Reply(CREATED, "It is recorded and counts from now on.", DispositionShown, links=TO_A_DISPOSITION),
    ),
    refusals=("not-found", "concession-needed", "content-differs", "second-person-needed", "not-ready"),
)
