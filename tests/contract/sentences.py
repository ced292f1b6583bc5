"""Every sentence that the service says to a caller or an operator: `python -m tests.contract.sentences` writes them to a page.

Where the source makes a flaw, a reason, a refusal or the like is found in it; an example of each is what the tests provoke, so
the command runs them (some minutes). `test_sentences.py` holds that each place in the source has an example on the page whose
words are still its own.
"""

import ast
import json
import os
import re
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from importlib.abc import MetaPathFinder
from importlib.machinery import ModuleSpec, PathFinder, SourceFileLoader
from pathlib import Path
from types import CodeType
from typing import Any, NamedTuple, TypeGuard

from tests.support.pages import TOP

PAGE = TOP / "openapi" / "SENTENCES.md"
SERVICE = TOP / "service"
DOCUMENTS = {"Flaw", "Reason", "NoPlan", "Undrawn", "Divergence", "Lacking", "Signal", "LeftOut", "Interruption", "Misfit"}
"""Documents with a code and a sentence; errors are found by their names."""
NOT_SAID = {"FlawedDocumentError", "NotJsonError", "MisshapenError", "DiffersError", "DeferredError"}
"""Errors that carry documents or nothing: their sentences are those of the documents."""
OF_PROGRAMMERS = {"ValueError", "RuntimeError", "AssertionError", "ZeroDivisionError", "KeyError", "TypeError"}
"""Errors that no caller and no operator meets."""
WHERE: Mapping[str, tuple[int | None, int]] = {
    "Undrawn": (1, 2),
    "LeftOut": (1, 2),
    "RefusalError": (0, 1),
    "Misfit": (None, 1),
}
"""Which argument is the code, and which the sentence; else the first two of a document, and the first of an error."""
FOLDER = "SENTENCES_FOLDER"
TESTS = ("engine", "outside", "usecases", "storage", "api", "cli", "workers", "contract", "test_settings.py")
LONGEST = 600


class Place(NamedTuple):
    """A place in the source that says something."""

    module: str
    line: int
    words: str
    """A regular expression of its sentence."""
    code: str
    """One of its code, or the name of the error."""


class Said(NamedTuple):
    """A sentence: the code or the error, and the words."""

    code: str
    text: str


class Noted(NamedTuple):
    """A sentence, and the module that said it."""

    module: str
    said: Said


def is_said(name: str) -> bool:
    """True for what has a sentence that somebody reads."""
    return name in DOCUMENTS or (name.endswith("Error") and name not in NOT_SAID | OF_PROGRAMMERS)


def places() -> Iterator[Place]:
    """All places in the source, in its order; one that says nothing, to be said anew by another, is left out."""
    for path in sorted(SERVICE.rglob("*.py")):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        for function in (
            node for node in ast.walk(tree) if isinstance(node, ast.Module | ast.FunctionDef | ast.AsyncFunctionDef)
        ):
            for call in calls_in(function):
                yield from (place for place in _place(path, function, call) if place.words)


def calls_in(function: ast.AST) -> Iterator[ast.Call]:
    """The calls in a function that make something said; those of a function within it are that one's."""
    for child in ast.iter_child_nodes(function):
        if isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef):
            continue
        if isinstance(child, ast.Call) and isinstance(child.func, ast.Name) and is_said(child.func.id):
            yield child
        yield from calls_in(child)


def _place(path: Path, function: ast.AST, call: ast.Call) -> Iterator[Place]:
    assert isinstance(call.func, ast.Name)
    name, by_name = call.func.id, {each.arg: each.value for each in call.keywords}
    code_at, text_at = WHERE.get(name, (0, 1) if name in DOCUMENTS else (None, 0))
    text = by_name.get("text") or (call.args[text_at] if text_at < len(call.args) else None)
    code = by_name.get("code") or (call.args[code_at] if code_at is not None and code_at < len(call.args) else None)
    codes = ".*" if code_at is not None and code is None else name if code is None else words_of(code, function)
    yield Place(str(path.relative_to(TOP)), call.lineno, ".*" if text is None else words_of(text, function), codes)


def words_of(node: ast.AST, function: ast.AST) -> str:
    """A regular expression of the texts that an expression can be; `.*` where that is not told by its form."""
    match node:
        case ast.Constant(value=str() as text):
            return re.escape(text)
        case ast.JoinedStr(values=values):
            return "".join(words_of(each, function) if isinstance(each, ast.Constant) else ".*" for each in values)
        case ast.BinOp(left=left, op=ast.Add(), right=right):
            return words_of(left, function) + words_of(right, function)
        case ast.IfExp(body=body, orelse=orelse):
            return f"(?:{words_of(body, function)}|{words_of(orelse, function)})"
        case ast.Name(id=name):
            made = [each for each in ast.walk(function) if _is_named(each, name) and each.lineno < node.lineno]
            return words_of(max(made, key=lambda each: each.lineno).value, function) if made else ".*"
        case _:
            return ".*"


def _is_named(node: ast.AST, name: str) -> TypeGuard[ast.Assign]:
    return isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name) and node.targets[0].id == name


class Listening(SourceFileLoader):
    """Loads a module of the service so that what its places say is noted."""

    def source_to_code(self, data: Any, path: Any, *, _optimize: int = -1) -> CodeType:  # type: ignore[override]  # it is typed static
        """The module's code, in which each call that makes something said passes its result on by `_note`."""
        tree = _Noting(str(Path(self.path).relative_to(TOP))).visit(ast.parse(data))
        made = ast.parse("from tests.contract.sentences import note as _note").body
        after = next((n for n, each in enumerate(tree.body) if not isinstance(each, ast.Expr)), 0)
        tree.body[after:after] = made
        return compile(ast.fix_missing_locations(tree), path, "exec")

    def get_code(self, fullname: str) -> CodeType | None:
        """Always from the source: cached byte code notes nothing."""
        return self.source_to_code(self.get_data(self.path), self.path)


class _Noting(ast.NodeTransformer):
    def __init__(self, module: str) -> None:
        """Of this module."""
        self._module = module

    def visit_Call(self, node: ast.Call) -> ast.AST:
        """Wrap it."""
        self.generic_visit(node)
        if isinstance(node.func, ast.Name) and is_said(node.func.id):
            return ast.copy_location(ast.Call(ast.Name("_note", ast.Load()), [node, ast.Constant(self._module)], []), node)
        return node


class Finder(MetaPathFinder):
    """Finds the modules of the service for `Listening`."""

    def find_spec(self, fullname: str, path: Any, target: Any = None) -> ModuleSpec | None:
        """The module with our loader; None for all others."""
        if not fullname.startswith("service."):
            return None
        spec = PathFinder.find_spec(fullname, path, target)
        if spec is not None and isinstance(spec.loader, SourceFileLoader):
            spec.loader = Listening(fullname, spec.loader.path)
        return spec


_noted: set[Noted] = set()


def note(made: Any, module: str) -> Any:
    """What was made, as it was; what it says is noted once."""
    text = getattr(made, "text", None) or getattr(made, "detail", None) or str(made)
    code = getattr(made, "code", None) or getattr(made, "kind", None) or type(made).__name__
    found = Noted(module, Said(str(code), " ".join(str(text).split())))
    if found not in _noted and len(found.said.text) <= LONGEST:
        _noted.add(found)
        with (Path(os.environ[FOLDER]) / f"{os.getpid()}.jsonl").open("a", encoding="utf-8") as file:
            file.write(json.dumps(found) + "\n")
    return made


def listen() -> None:
    """Note what the service says from now on; before any module of it is imported."""
    sys.meta_path.insert(0, Finder())


def provoked() -> set[Noted]:
    """What the tests make the service say."""
    with tempfile.TemporaryDirectory() as folder:
        words = [sys.executable, "-m", "pytest", "-q", "-p", "tests.contract.listening", "-n", "2", "--dist", "loadfile"]
        left_out = ["--ignore", "tests/contract/test_sentences.py", "--ignore", "tests/contract/test_schemathesis.py"]
        run = [*words, *(f"tests/{each}" for each in TESTS), *left_out]
        subprocess.run(run, cwd=TOP, env=os.environ | {FOLDER: folder}, check=False)
        return noted_in(Path(folder))


def noted_in(folder: Path) -> set[Noted]:
    """What was noted by all processes."""
    lines = [line for path in folder.glob("*.jsonl") for line in path.read_text(encoding="utf-8").splitlines()]
    return {Noted(module, Said(*said)) for module, said in map(json.loads, lines)}


def fits(place: Place, said: Said) -> bool:
    """True where the place may have said it."""
    return re.fullmatch(place.code, said.code) is not None and re.fullmatch(place.words, said.text, re.DOTALL) is not None


def chosen(noted: set[Noted]) -> Mapping[Place, Said]:
    """An example of each place: of those of middle length the first, as the shortest are seldom what a mill sends."""
    by_module: dict[str, list[Said]] = {}
    for each in sorted(noted, key=lambda each: (len(each.said.text), each.said)):
        by_module.setdefault(each.module, []).append(each.said)
    fitting = {place: [each for each in by_module.get(place.module, []) if fits(place, each)] for place in places()}
    return {place: _middle(said) or _form(place) for place, said in fitting.items()}


def _middle(said: Sequence[Said]) -> Said | None:
    return said[len(said) // 2] if said else None


def _form(place: Place) -> Said:
    """The words of a place that the tests provoke in another process alone, with `…` for what differs."""
    return Said(*(re.sub(r"\\(.)", r"\1", each.replace(".*", "…")) for each in (place.code, place.words)))


def page(examples: Mapping[Place, Said]) -> str:
    """The page: sentences by module, each with its code."""
    lines = [
        "# Every sentence that the service says",
        "",
        "By the module that says it: the code, or the name of the error inside, and an example from the tests. Made by",
        "`python -m tests.contract.sentences`; a test holds that no sentence is missing. Codes are stable, words may change.",
        "What the tests provoke in another process alone has `…` for what differs.",
    ]
    module = ""
    for place, said in examples.items():
        if place.module != module:
            module = place.module
            lines += ["", f"## {module.removeprefix('service/').removesuffix('.py')}", ""]
        line = f"- `{said.code}`: {said.text}"
        if line not in lines[-20:]:
            lines.append(line)
    return "\n".join(lines) + "\n"


def on_page() -> set[Said]:
    """The sentences that the page has."""
    found = re.findall(r"^- `([\w-]+)`: (.+)$", PAGE.read_text(encoding="utf-8"), re.MULTILINE)
    return {Said(code, text) for code, text in found}


if __name__ == "__main__":
    PAGE.write_text(page(chosen(provoked())), encoding="utf-8")
