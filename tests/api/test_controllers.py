"""What a handler is: it translates, and use cases decide."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

from service.api.controllers import CONTROLLERS

API = Path(__file__).parents[2] / "service" / "api"
MOST_LINES = 8


def written_methods() -> Iterator[ast.AsyncFunctionDef]:
    """The methods of all controllers, as they are written."""
    for file in sorted(API.glob("*/controller.py")):
        for node in ast.parse(file.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.ClassDef) and any(
                isinstance(each, ast.Name) and each.id == "Controller" for each in node.bases
            ):
                yield from (each for each in node.body if isinstance(each, ast.AsyncFunctionDef))


METHODS = list(written_methods())


def lines_of(method: ast.AsyncFunctionDef) -> int:
    """How many lines it has below its docstring."""
    body = method.body[1:] if ast.get_docstring(method) else method.body
    return (body[-1].end_lineno or 0) - body[0].lineno + 1


def test_every_controller_is_among_those_that_are_served() -> None:
    """One that is left out would be missed by callers alone."""
    files = {file.parent.name for file in API.glob("*/controller.py")}

    assert files == {each.__module__.split(".")[-2] for each in CONTROLLERS}


@pytest.mark.parametrize("method", METHODS, ids=lambda each: each.name)
def test_a_method_translates_and_does_no_more(method: ast.AsyncFunctionDef) -> None:
    """At most eight lines, nothing caught, no number of a status: whoever looks for a rule need not look here."""
    inside = list(ast.walk(ast.Module(method.body, [])))
    numbers = [node.value for node in inside if isinstance(node, ast.Constant) and isinstance(node.value, int)]

    assert MOST_LINES >= lines_of(method)
    assert not any(isinstance(node, ast.Try) for node in inside)
    assert [] == [number for number in numbers if 100 <= number < 600]
