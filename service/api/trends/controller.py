"""The controller of trends: a characteristic over the lots of a grade, as figures and as a chart."""

from datetime import datetime
from typing import Annotated

from litestar import Controller, Response
from litestar.di import NamedDependency
from msgspec import UNSET, Meta, Struct

from service.api.handlers import get
from service.api.moments import Moment, in_utc
from service.api.operations import SVG, documented
from service.api.parameters import CharacteristicName, GradeCode, query_parameter
from service.api.trends import operations
from service.api.trends.documents import TrendShown
from service.engine.documents import Code, RevisionNumber
from service.engine.trends import chart, lacking
from service.ports.catalogue import Catalogue
from service.ports.closed_lots import ClosedLots, ClosedLotsQuery
from service.usecases.grades import GradeCache
from service.usecases.paging import MOST_AT_ONCE
from service.usecases.trends import MOST_LOTS, TrendFound, trend

_Lots = Annotated[int, Meta(ge=1, le=MOST_LOTS)]
OfLine = Annotated[Code | None, query_parameter("Only lots from this line.", "L-3")]
ClosedFrom = Annotated[
    Moment | None, query_parameter("Only lots closed at this moment or later.", "2026-11-01T00:00:00Z", "from")
]
ClosedUntil = Annotated[Moment | None, query_parameter("Only lots closed before this moment.", "2026-12-01T00:00:00Z")]
ByRevision = Annotated[
    RevisionNumber | None, query_parameter("The revision whose unit and limits are used; the one in force if left out.", 1)
]
Newest = Annotated[_Lots | None, query_parameter(f"How many lots, the newest ones; {MOST_AT_ONCE} if left out.", 100)]


class Trends(Struct, frozen=True):
    """What these handlers need: closed lots and their grades."""

    catalogue: Catalogue
    grade_cache: GradeCache
    history: ClosedLots

    async def of(self, name: str, wanted: ClosedLotsQuery, revision: int | None) -> TrendFound:
        """The trend of a characteristic over the selected lots. Raises what `trend` raises."""
        return await trend(self.catalogue, self.grade_cache, self.history, name, wanted, revision)


class TrendController(Controller):
    """Trends of a characteristic from lot to lot."""

    path = "/v1/grades/{grade:str}/trends/{characteristic:str}"

    @get(**documented(operations.SHOW_TREND))
    async def show(
        self,
        grade: GradeCode,
        characteristic: CharacteristicName,
        trends: NamedDependency[Trends],
        line: OfLine = None,
        from_: ClosedFrom = None,
        until: ClosedUntil = None,
        revision: ByRevision = None,
        limit: Newest = None,
    ) -> TrendShown:
        """Show the trend as figures."""
        wanted = _query(grade, line, from_, until, limit)
        return _shown(await trends.of(characteristic, wanted, revision), line)

    @get("/chart", media_type=SVG, **documented(operations.SHOW_TREND_CHART))
    async def show_chart(
        self,
        grade: GradeCode,
        characteristic: CharacteristicName,
        trends: NamedDependency[Trends],
        line: OfLine = None,
        from_: ClosedFrom = None,
        until: ClosedUntil = None,
        revision: ByRevision = None,
        limit: Newest = None,
    ) -> Response[bytes]:
        """Show the trend as a control chart in SVG."""
        found = await trends.of(characteristic, _query(grade, line, from_, until, limit), revision)
        return Response(chart(found.trend).encode(), media_type=SVG)


def _query(grade: str, line: str | None, from_: datetime | None, until: datetime | None, limit: int | None) -> ClosedLotsQuery:
    """The query for the lots of a trend, its moments in UTC."""
    return ClosedLotsQuery(
        grade=grade,
        lines=(line,) if line else (),
        closed_from=in_utc(from_, "/from"),
        closed_until=in_utc(until, "/until"),
        limit=limit or MOST_AT_ONCE,
    )


def _shown(found: TrendFound, line: str | None) -> TrendShown:
    held, calculated, left_out = found
    return TrendShown(
        grade=held.grade,
        revision=held.number,
        specification=held.compiled.digest,
        line=line or UNSET,
        trend=calculated,
        left_out=list(left_out),
        lacking=list(lacking(calculated)),
    )
