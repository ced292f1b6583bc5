"""The one table of routes: what the service answers, and what the OpenAPI document says of it, come from here."""

from functools import cache

from service.api.routes.catalogue import catalogue_routes
from service.api.routes.claiming import claiming_routes
from service.api.routes.closing import closing_routes
from service.api.routes.disposing import disposing_routes
from service.api.routes.impact import impact_routes
from service.api.routes.instruments import instrument_routes
from service.api.routes.journal import journal_routes
from service.api.routes.judging import judging_routes
from service.api.routes.keys import key_routes
from service.api.routes.lines import line_routes
from service.api.routes.lots import lot_routes
from service.api.routes.pages import page_routes
from service.api.routes.planning import planning_routes
from service.api.routes.replaying import replaying_routes
from service.api.routes.trends import trend_routes
from service.api.routing import Route


@cache
def routes() -> tuple[Route, ...]:
    """All routes, in the order of the OpenAPI document."""
    return (
        *judging_routes(),
        *planning_routes(),
        *catalogue_routes(),
        *impact_routes(),
        *lot_routes(),
        *closing_routes(),
        *replaying_routes(),
        *disposing_routes(),
        *line_routes(),
        *claiming_routes(),
        *trend_routes(),
        *instrument_routes(),
        *key_routes(),
        *journal_routes(),
        *page_routes(),
    )
