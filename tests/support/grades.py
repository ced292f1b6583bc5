"""Small specifications and evidence, as a caller would send them; figures and names are invented."""

from typing import Any

Document = dict[str, Any]
"""A JSON document."""

FORCE: Document = {"name": "breaking_force", "unit": "N"}
KNOT_FORCE: Document = {"name": "knot_breaking_force", "unit": "N"}
RUNNAGE: Document = {"name": "runnage", "unit": "m/kg"}
TWIST: Document = {"name": "twist", "unit": "turn/m"}
DIRECTION: Document = {"name": "twist_direction"}
ELONGATION: Document = {"name": "elongation_at_break", "unit": "%"}
EFFICIENCY: Document = {
    "name": "knot_efficiency",
    "unit": "%",
    "derived": {"kind": "ratio", "numerator": "knot_breaking_force", "denominator": "breaking_force"},
}
AGE: Document = {"kind": "age", "from": "made", "to": "asked", "limits": {"upper": 365}}
RATE: Document = {"kind": "rate", "faults": ["knot"], "per": {"value": 1000, "unit": "m"}, "at_most": 2}
POOLED_EFFICIENCY: Document = {**EFFICIENCY, "derived": {**EFFICIENCY["derived"], "kind": "ratio_of_means"}}


def grade(*requirements: Document, of: Document | list[Document] = FORCE) -> Document:
    """A specification with these requirements, on the first characteristic where they name none; ids `r0`, `r1` and so on."""
    characteristics = of if isinstance(of, list) else [of]
    first = characteristics[0]["name"]
    numbered = [{"id": f"r{number}", "of": first, **each} for number, each in enumerate(requirements)]
    return {"characteristics": characteristics, "requirements": numbered}


def each(**members: object) -> Document:
    """A requirement on each value; `lower` and `upper` may be given for `limits`."""
    return {"kind": "each", **_with_limits(members)}


def mean(**members: object) -> Document:
    """A requirement on the mean; `lower` and `upper` may be given for `limits`."""
    return {"kind": "mean", **_with_limits(members)}


def spread(statistic: str, at_most: float, **members: object) -> Document:
    """A requirement on a spread."""
    return {"kind": "spread", "statistic": statistic, "at_most": at_most, **members}


def variables(k: float | None, **members: object) -> Document:
    """Acceptance by variables with a given k, or with that of its plan; `lower` and `upper` may be given for `limits`."""
    return {"kind": "variables", **({} if k is None else {"k": k}), **_with_limits(members)}


def declared(*one_of: object, **members: object) -> Document:
    """A requirement on a declaration."""
    return {"kind": "declared", "one_of": list(one_of), **members}


def fixed(packages: int, readings: int | None = None) -> Document:
    """A sample of so many packages, with so many readings each where that is said."""
    return {"plan": "fixed", "packages": packages, **({} if readings is None else {"readings_per_package": readings})}


def sampled(characteristic: Document, packages: int, readings: int | None = None) -> Document:
    """The characteristic with a fixed sample."""
    return {**characteristic, "sample": fixed(packages, readings)}


def series(*values: float, of: Document = FORCE, unit: str | None = None, packages: list[str] | None = None) -> Document:
    """A series of readings of this characteristic, in its unit where no other is given."""
    column: Document = {"characteristic": of["name"], "unit": unit or of["unit"], "values": list(values)}
    return column if packages is None else {**column, "packages": packages}


def lot(*columns: Document, size: int | None = None, declared: dict[str, object] | None = None) -> Document:
    """Evidence on a lot."""
    found: Document = {"lot": {"id": "L-1"} if size is None else {"id": "L-1", "size": size}}
    if columns:
        found["series"] = list(columns)
    if declared:
        found["declared"] = [{"characteristic": name, "value": value} for name, value in declared.items()]
    return found


def _with_limits(members: dict[str, object]) -> Document:
    """`lower` and `upper` moved into `limits`."""
    limits = {side: members.pop(side) for side in ("lower", "upper") if side in members}
    return {"limits": limits, **members} if limits else members
