"""Every code that the engine can answer with is told of in these tests."""

import ast
from collections.abc import Iterator
from pathlib import Path

from tests.support.judging import REASONS

HERE = Path(__file__).parent
ENGINE = HERE.parents[1] / "service" / "engine"


def texts_in(node: ast.AST) -> Iterator[str]:
    """Every text that stands in this piece of source."""
    for part in ast.walk(node):
        if isinstance(part, ast.Constant) and isinstance(part.value, str):
            yield part.value


def codes_of(name: str) -> Iterator[str]:
    """The codes that the engine's source makes a Flaw, a Reason, or a NoPlan, of."""
    for path in ENGINE.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == name and node.args:
                yield from texts_in(node.args[0])


def reasons() -> set[str]:
    """The codes of reasons; that there is no plan for a lot becomes one."""
    return set(codes_of("Reason")) | set(codes_of("NoPlan"))


def told() -> set[str]:
    """Every text in the tests of the engine but for this module."""
    modules = (path for path in HERE.rglob("test_*.py") if path.name != Path(__file__).name)
    return {text for path in modules for text in texts_in(ast.parse(path.read_text(encoding="utf-8")))}


def test_every_code_of_a_flaw_is_told_of() -> None:
    """A flaw that no test provokes may point nowhere, or say nothing that helps."""
    codes = set(codes_of("Flaw"))

    assert len(codes) > 30
    assert set() == codes - told()


def test_every_code_of_a_reason_is_told_of() -> None:
    """A station shows reasons; each of them is seen here first."""
    assert set() == (REASONS | reasons()) - told()


def test_the_engine_gives_no_reason_that_the_contract_does_not_list() -> None:
    """A client that knows the list knows every reason of this engine number."""
    assert set() == reasons() - REASONS
