"""Problem details as every refusal has them."""

from typing import Any

import httpx


def problem_of(answer: httpx.Response, status: int) -> dict[str, Any]:
    """The problem details of a refusal, which are whole and carry the request's id."""
    assert status == answer.status_code, answer.text
    assert "application/problem+json" == answer.headers["content-type"]
    problem: dict[str, Any] = answer.json()
    assert status == problem["status"]
    assert f"urn:uuid:{answer.headers['x-request-id']}" == problem["instance"]
    assert problem["type"].startswith("/problems/")
    assert problem["detail"].endswith((".", "?"))
    assert all(flaw["text"].endswith((".", "?")) for flaw in problem.get("flaws", []))
    return problem
