"""What tests of lots in a row share: a service with a grade, and lots opened, measured and closed over HTTP."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import Any, NamedTuple, cast

import httpx

from service.app import create_app
from service.settings import Settings
from tests.support.grades import Document
from tests.support.within import ADDRESS


class Mill(NamedTuple):
    """A client of a service in which one grade is in force."""

    client: httpx.AsyncClient
    grade: str

    async def got(self, path: str, status: int = 200) -> Any:
        """The document below the grade's path."""
        answer = await self.client.get(f"/v1/grades/{self.grade}/{path}")
        assert status == answer.status_code, answer.text
        return answer.json()

    async def release(self, specification: Document) -> None:
        """A further revision, in force at once."""
        revisions = f"/v1/grades/{self.grade}/revisions"
        draft = await self.client.post(revisions, json=specification)
        assert 201 == draft.status_code, draft.text
        released = await self.client.post(f"{revisions}/{draft.json()['revision']}/release", json={})
        assert 200 == released.status_code, released.text

    async def open(self, lot: str, **told: object) -> Any:
        """The lot, open."""
        answer = await self.client.put(f"/v1/lots/{lot}", json={"grade": self.grade, **told})
        assert 201 == answer.status_code, answer.text
        return answer.json()

    async def close(self, lot: str, **brought: object) -> Any:
        """The verdict on the lot, after a batch with all that was measured and counted."""
        batch = await self.client.post(f"/v1/lots/{lot}/readings", json={"batch": f"{lot}-B", **brought})
        assert 201 == batch.status_code, batch.text
        closed = await self.client.post(f"/v1/lots/{lot}/close", json={})
        assert 201 == closed.status_code, closed.text
        return closed.json()["verdict"]


@asynccontextmanager
async def mill_on(database_url: str, grade: str, specification: Document) -> AsyncIterator[Mill]:
    """A service on this database, whose tables are made, with the grade in force."""
    application = create_app(Settings(database_url=database_url))
    # Litestar's client asks one after the other; some of these tests ask at once.
    transport = httpx.ASGITransport(app=cast("Any", application))
    async with application.lifespan(), httpx.AsyncClient(transport=transport, base_url=ADDRESS) as client:
        mill = Mill(client, grade)
        await mill.release(specification)
        yield mill
