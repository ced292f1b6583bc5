"""Who imports whom in `service`: never in a circle, and a folder's contents only as that folder exports them.

Which folder lies below which is a contract of `lint-imports`, in pyproject.toml.
"""

from collections.abc import Iterator, Mapping
from graphlib import CycleError, TopologicalSorter
from importlib import import_module
from pathlib import Path

import grimp
import pytest

HOLDERS = ("service.engine", "service.usecases", "service.storage")
"""Whose folders export what others may use."""
LOADED_LATE = ("service.engine.risks", "service.engine.sampling.curves", "service.engine.sampling.grids")
"""Imported by name, inside functions: they take long to load, and few requests need them."""
LATE_IN_ROOM = "service.engine.numbers.columns.long"
"""The same: it imports numpy, which pays for long columns alone."""


@pytest.fixture(scope="module")
def imports() -> Mapping[str, set[str]]:
    """By module, what it imports, under TYPE_CHECKING and inside functions too."""
    graph = grimp.build_graph("service", cache_dir=None)
    return {module: graph.find_modules_directly_imported_by(module) for module in graph.modules}


def test_no_module_imports_itself_by_way_of_others(imports: Mapping[str, set[str]]) -> None:
    """Who changes a module need not look into those that rest on it."""
    assert "service.engine.judging" in imports["service.usecases.judging.verdicts"]

    try:
        TopologicalSorter(imports).prepare()
    except CycleError as error:
        pytest.fail(" → ".join(reversed(error.args[1])))


def test_a_folder_is_entered_by_what_it_exports(imports: Mapping[str, set[str]]) -> None:
    """What a folder does not export may be changed by who knows that folder alone."""
    passed_by = [
        f"{module} imports {imported}"
        for module, all_imported in imports.items()
        for imported in all_imported
        if (folder := entered(module, imported)) and not is_exported(imported, folder)
    ]

    assert [] == sorted(passed_by)
    assert entered("service.usecases.judging.verdicts", "service.engine.documents.evidence") == "service.engine.documents"


def test_a_folder_exports_what_is_imported_from_it() -> None:
    """An export that nobody uses is a promise for nothing."""
    sources = {path: path.read_text(encoding="utf-8") for path in Path("service").rglob("*.py") if "pages" not in path.parts}
    unused = [
        f"{folder}.{name}"
        for folder in folders()
        for name in getattr(import_module(folder), "__all__", ())
        if not any(name in text for path, text in sources.items() if Path(*folder.split(".")) not in path.parents)
    ]

    assert [] == unused


def folders() -> Iterator[str]:
    """The folders that export."""
    for holder in HOLDERS:
        yield from (f"{holder}.{each.parent.name}" for each in Path(*holder.split(".")).glob("*/__init__.py"))


def entered(module: str, imported: str) -> str | None:
    """The folder that the import enters from outside; None where there is none."""
    holder = next((each for each in HOLDERS if imported.startswith(f"{each}.")), None)
    if holder is None:
        return None
    folder = f"{holder}.{imported.removeprefix(f'{holder}.').split('.')[0]}"
    return None if folder == imported or f"{module}.".startswith(f"{folder}.") else folder


def is_exported(imported: str, folder: str) -> bool:
    """True for what `__init__` exports, a module by its name, and for what is loaded late."""
    if imported == LATE_IN_ROOM or any(imported == each or imported.startswith(f"{each}.") for each in LOADED_LATE):
        return True
    return imported.removeprefix(f"{folder}.") in getattr(import_module(folder), "__all__", ())
