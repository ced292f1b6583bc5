"""Who imports whom in `service`: never in a circle, however long, under TYPE_CHECKING and inside functions neither.

That imports point inward is a contract of `lint-imports`, in pyproject.toml.
"""

from graphlib import CycleError, TopologicalSorter

import grimp
import pytest


def test_no_module_imports_itself_by_way_of_others() -> None:
    """Who changes a module need not look into those that rest on it."""
    graph = grimp.build_graph("service", cache_dir=None)
    imports = {module: graph.find_modules_directly_imported_by(module) for module in graph.modules}
    assert "service.engine.judging" in imports["service.usecases.judging"]

    try:
        TopologicalSorter(imports).prepare()
    except CycleError as error:
        pytest.fail(" → ".join(reversed(error.args[1])))
