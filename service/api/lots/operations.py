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
    description="Lots in the order of their ids. Give `next` as `after` to go on; it is left out at the end.",
    scope=Scope.READ,
    replies=(Reply(OK, "Lots.", LotList, links=("first-lot", "open-lot")),),
    refusals=("not-ready",),
)
SHOW_LOT = Operation(
    name="showLot",
    tag="lots",
    summary="Show a lot",
    description="The lot as it is now: by which revision it is judged, its state, and how much was measured.",
    scope=Scope.READ,
    replies=(Reply(OK, "The lot.", LotShown, links=("lot-evidence", "lot-changes", "readings", "close")),),
    refusals=("not-found", "not-ready"),
)
LIST_LOT_CHANGES = Operation(
    name="listLotChanges",
    tag="lots",
    summary="List the changes of a lot",
    description="Everything that was recorded of it, in order, and by whom; nothing of it is ever changed.",
    scope=Scope.READ,
    replies=(Reply(OK, "Changes.", ChangeList),),
    refusals=("not-found", "not-ready"),
)
SHOW_EVIDENCE = Operation(
    name="showEvidence",
    tag="lots",
    summary="Show the evidence of a lot",
    description=(
        "All that is known of it by now, as one document that a verdict can be asked on; readings that were struck "
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
    description=("A batch or a correction as it was sent, with when and by whom; what was struck since is still in it."),
    scope=Scope.READ,
    replies=(Reply(OK, "The batch.", BatchKept),),
    refusals=("not-found", "not-ready"),
)
OPEN_LOT = Operation(
    name="openLot",
    tag="lots",
    summary="Open a lot",
    description=(
        "From now on it collects what is measured. The revision in force, or the one named, stays the lot's. Sent "
        "again it is answered again; with other content it is refused, and the difference is shown."
    ),
    scope=Scope.RECORD,
    body=Opening,
    replies=(
        Reply(
            OK,
            "It is open already, by the same.",
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
    description="Something of your own by which the lot is found again, at any time, under an id of your own.",
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
        Reply(CREATED, "It goes by the newer one.", LotShown, links=TO_A_LOT),
    ),
    refusals=("not-found", "conflict", "content-differs", "not-ready"),
)
RECORD_READINGS = Operation(
    name="recordReadings",
    tag="lots",
    summary="Record what was measured",
    description=(
        "Readings, counts, declarations and dates under an id of your own: sent again they are counted once, and "
        "other content under the same id is refused. The answer says which requirements have moved, together with "
        "others that were recorded at the same moment. It comes when all is durable. Readings alone may come as "
        "rows, in NDJSON or CSV, with what is said of them in the query."
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
    summary="Strike something out",
    description=(
        "It stays in its batch, with the reason beside it. A struck reading stays in the evidence and is counted "
        "as struck; a struck count, declaration or date is left out. Without `of` it is a date told at the "
        "opening."
    ),
    scope=Scope.RECORD,
    body=Strike,
    replies=(
        Reply(OK, "It was struck before.", Recorded, links=TO_A_LOT),
        Reply(CREATED, "It is struck.", Recorded, links=TO_A_LOT),
    ),
    refusals=("not-found", "conflict", "content-differs", "not-ready"),
)
