"""What the hot paths may take. `python -m tests.bench.budgets` counts, and sets the budgets of this interpreter anew."""

import platform
import sys
import sysconfig
import tempfile
from collections.abc import Mapping
from pathlib import Path

import msgspec
from msgspec import Struct

from tests.bench.counting import Count, counts, why_not

FILE = Path(__file__).with_name("budgets.json")
ALLOWANCE = 1.03
"""A budget is what was counted, and 3 percent: two runs differ by less than one in a thousand."""


class Budgets(Struct, frozen=True):
    """Of one interpreter."""

    counted_on: str
    """The build, to be told where another one of the same version fails."""
    ratios: Mapping[str, float]
    """At most so many times the reference's instructions, by path."""


def interpreter() -> str:
    """Whose budgets count here, as in `cpython-3.11-x86_64`; ratios move between versions of Python and between machines."""
    return f"{sys.implementation.name}-{sysconfig.get_python_version()}-{platform.machine()}"


def build() -> str:
    """The version and the compiler of this interpreter."""
    return f"{platform.python_version()}, {platform.python_compiler()}, msgspec {msgspec.__version__}"


def held() -> Mapping[str, Budgets]:
    """The committed budgets by interpreter."""
    return msgspec.json.decode(FILE.read_bytes(), type=dict[str, Budgets])


def excess(path: str, count: Count, budgets: Budgets) -> str:
    """The sentence that says by how much a path is over its budget; "" where it is not."""
    budget = budgets.ratios[path]
    if count.ratio <= budget:
        return ""
    over = 100 * (count.ratio / budget - 1)
    return (
        f"For {path} the service takes {count.instructions} instructions, {count.ratio:.3f} times the reference; that is "
        f"{over:.1f} % over its budget of {budget:.3f}, set on {budgets.counted_on} (this is {build()}). See where they go by "
        f"`callgrind_annotate {count.profile}`; if they are worth it, set new budgets by `python -m tests.bench.budgets`."
    )


def main() -> None:
    """Count, set the budgets of this interpreter, and say what they were."""
    if reason := why_not():
        sys.exit(reason)
    with tempfile.TemporaryDirectory() as folder:
        found = counts(Path(folder))
    before = held()
    ratios = {path: round(count.ratio * ALLOWANCE, 3) for path, count in found.items()}
    after = {**before, interpreter(): Budgets(build(), ratios)}
    FILE.write_bytes(msgspec.json.format(msgspec.json.encode(after, order="sorted"), indent=2) + b"\n")
    old = before[interpreter()].ratios if interpreter() in before else {}
    for path, count in found.items():
        was = f"was {old[path]}" if path in old else "had none"
        sys.stdout.write(f"{path}: {count.instructions} instructions, budget {ratios[path]} times the reference, {was}\n")


if __name__ == "__main__":
    main()
