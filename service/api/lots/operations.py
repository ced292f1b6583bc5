"""Declarations of the operations on lots, for the OpenAPI document, logs and access control."""

from service.api.document.links import TO_A_LOT
from service.api.lots.documents import BatchKept, ChangeList, LotList, LotShown, Recorded
from service.api.operations import Operation, Reply
from service.api.problems import CREATED, OK
from service.engine.documents import Evidence
from service.engine.ledger import AttributesAdded, Batch, Opening, RevisionMoved, Strike
from service.ports.catalogue import Scope

LIST_LOTS = Operation(
    name="listLots",
    tag="lots",
    summary="List and search lots",
    description=(
        "Lots in the order of their ids or of their opening, with the requirements that failed and the open claims. "
        "Send `next` as `after` to get the next page; the last page has none."
    ),
    scope=Scope.READ,
    replies=(Reply(OK, "Lots.", LotList, links=("first-lot", "open-lot")),),
    refusals=("not-ready",),
)
SHOW_LOT = Operation(
    name="showLot",
    tag="lots",
    summary="Show a lot",
    description="The lot as it is now: the revision by which it is judged, its state, and how much was measured.",
    scope=Scope.READ,
    replies=(Reply(OK, "The lot.", LotShown, links=("lot-evidence", "lot-changes", "readings", "close")),),
    refusals=("not-found", "not-ready"),
)
LIST_LOT_CHANGES = Operation(
    name="listLotChanges",
    tag="lots",
    summary="List the changes of a lot",
    description="Everything that was recorded of the lot, in order, with when and by whom; none of it ever changes.",
    scope=Scope.READ,
    replies=(Reply(OK, "Changes.", ChangeList),),
    refusals=("not-found", "not-ready"),
)
SHOW_EVIDENCE = Operation(
    name="showEvidence",
    tag="lots",
    summary="Show the evidence of a lot",
    description=(
        "All that is recorded of the lot so far, as one document that can be sent to `/v1/verdicts`; struck readings "
        "have the remark `struck`."
    ),
    scope=Scope.READ,
    replies=(Reply(OK, "The document.", Evidence),),
    refusals=("not-found", "not-ready"),
)
SHOW_BATCH = Operation(
    name="showBatch",
    tag="lots",
    summary="Show a batch",
    description=("A batch or a correction as it was sent, with when and by whom; what was struck since then is still in it."),
    scope=Scope.READ,
    replies=(Reply(OK, "The batch.", BatchKept),),
    refusals=("not-found", "not-ready"),
)
OPEN_LOT = Operation(
    name="openLot",
    tag="lots",
    summary="Open a lot",
    description=(
        "From now on the lot collects readings. The revision in force, or the one named, stays the lot's revision. Sent "
        "again, the request is answered again; with other content it is refused, and the differences are listed."
    ),
    scope=Scope.RECORD,
    body=Opening,
    replies=(
        Reply(
            OK,
            "It was opened before, with the same content.",
            LotShown,
            links=("lot", "lot-evidence", "lot-changes", "readings", "close", "attributes", "move"),
        ),
        Reply(
            CREATED,
            "The new lot.",
            LotShown,
            headers=("Location",),
            links=("lot", "lot-evidence", "lot-changes", "readings", "close", "attributes", "move"),
        ),
    ),
    refusals=("not-found", "content-differs", "not-ready"),
)
ADD_ATTRIBUTES = Operation(
    name="addAttributes",
    tag="lots",
    summary="Add attributes to a lot",
    description="Names and values of your own by which the lot is found again, at any time, under an id of your own.",
    scope=Scope.RECORD,
    body=AttributesAdded,
    replies=(
        Reply(OK, "They were added before.", LotShown, links=TO_A_LOT),
        Reply(CREATED, "They are added.", LotShown, links=TO_A_LOT),
    ),
    refusals=("not-found", "conflict", "content-differs", "not-ready"),
)
MOVE_LOT = Operation(
    name="moveLot",
    tag="lots",
    summary="Move a lot to a newer revision",
    description="Only to a newer released revision of its grade, and only while it has no verdict.",
    scope=Scope.CLOSE,
    body=RevisionMoved,
    replies=(
        Reply(OK, "It was moved before.", LotShown, links=TO_A_LOT),
        Reply(CREATED, "It is judged by the newer revision now.", LotShown, links=TO_A_LOT),
    ),
    refusals=("not-found", "conflict", "content-differs", "not-ready"),
)
RECORD_READINGS = Operation(
    name="recordReadings",
    tag="lots",
    summary="Record what was measured",
    description=(
        "Readings, counts, declarations and dates under an id of your own: sent again they count once, and other content "
        "under the same id is refused. The answer says which requirements have changed, together with what others "
        "recorded at the same moment. It is sent once everything is on disk. Readings alone can be sent as rows, in "
        "NDJSON or CSV, with the other members in the query."
    ),
    scope=Scope.RECORD,
    body=Batch,
    row_media_types=("application/x-ndjson", "text/csv"),
    replies=(
        Reply(
            OK,
            "It was recorded before.",
            Recorded,
            links=("lot", "lot-evidence", "lot-changes", "readings", "close", "batch", "strike"),
        ),
        Reply(
            CREATED,
            "It is recorded.",
            Recorded,
            links=("lot", "lot-evidence", "lot-changes", "readings", "close", "batch", "strike"),
        ),
    ),
    refusals=("not-found", "conflict", "content-differs", "not-ready"),
)
STRIKE = Operation(
    name="strike",
    tag="lots",
    summary="Strike readings or other entries",
    description=(
        "A struck entry stays in its batch, with the reason beside it. A struck reading stays in the evidence and counts "
        "as struck; a struck count, declaration or date is left out. Without `of`, a date given when the lot was opened "
        "is struck."
    ),
    scope=Scope.RECORD,
    body=Strike,
    replies=(
        Reply(OK, "It was struck before.", Recorded, links=TO_A_LOT),
        Reply(CREATED, "It is struck.", Recorded, links=TO_A_LOT),
    ),
    refusals=("not-found", "conflict", "content-differs", "not-ready"),
)
