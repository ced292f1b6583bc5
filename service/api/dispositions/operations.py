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
        "That the lot may be released although no verdict passes it, or go out as another grade that it does not "
        "meet. It counts for the lot as its newest verdict has it: after a later verdict another one is needed. "
        "Who grants it does not dispose of the lot by it. Sent again it is answered again. It is a decision of the "
        "mill on its own goods, no certificate for lifting, for life-safety use or of legal metrology, which "
        "follow local law and accredited practice."
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
        "Says what is done with the lot from now on, under an id of your own, and on which verdict that rests. A "
        "lot that passes may be released. It may be regraded to a grade whose revision in force it passes by the "
        "evidence of its newest verdict. Neither is open to a lot from a line at which acceptance is discontinued, until "
        "it is taken up again. Anything else that goes out takes a concession that another person "
        "granted. Hold, rework and scrap are always open. It is a decision of the mill on its own goods, no "
        "certificate for lifting, for life-safety use or of legal metrology, which follow local law and accredited "
        "practice."
    ),
    scope=Scope.DISPOSE,
    body=Disposition,
    replies=(
        Reply(OK, "It was recorded before.", DispositionShown, links=TO_A_DISPOSITION),
        Reply(CREATED, "It is recorded, and counts from now on.", DispositionShown, links=TO_A_DISPOSITION),
    ),
    refusals=("not-found", "concession-needed", "content-differs", "second-person-needed", "not-ready"),
)
