"""Lots whose readings are remarked, implausible, of composites or by other methods, and lots that go with a moisture."""

from random import Random
from typing import Any

from tests.support.columns import column
from tests.support.edges import Edge, in_range
from tests.support.exact import exact
from tests.support.lots import Lot, lot_at_the_edge, named, with_requirements
from tests.support.simple_values import standing_readings

REMARKS = ("", "", "", "", "confirmed", "struck", "slipped", "broke_at_clamp", "broke_outside_marks")
FORCES = ("breaking_force", "knot_breaking_force")


def remarked_lot(rng: Random) -> Lot:
    """A lot on one measured characteristic whose readings are not all to be taken as they stand."""
    lot = lot_at_the_edge(rng)
    while any("derived" in each for each in lot.specification["characteristics"]) or not lot.evidence["series"]:
        lot = lot_at_the_edge(rng)
    characteristic = lot.specification["characteristics"][0]
    rules: dict[str, Any] = {"leave_out": ["slipped", "broke_at_clamp"]}
    if is_force := characteristic["name"] in FORCES:
        rules["passes_outside_marks_at"] = {"percent": rng.choice((90, 95, 66.6, 100))}
    characteristic["remarks"] = rules
    drawn = [each for each in REMARKS if is_force or each != "broke_outside_marks" or rng.random() < 0.05]
    for series in lot.evidence["series"]:
        if rng.random() < 0.8:
            series["remarks"] = [rng.choice(drawn) for _ in series["values"]]
        # Nobody can take a second reading of a package that is in a composite, so where two are asked for there is none.
        if "packages" not in series and "readings_per_package" not in str(lot.specification) and rng.random() < 0.2:
            series["packages_per_specimen"] = rng.choice((1, 2, 5))
    if rng.random() < 0.1:
        characteristic["method"] = "by hand"
        for series in lot.evidence["series"]:
            series["method"] = rng.choice(("by hand", "by hand", "by machine"))
    values = [reading.value for reading in standing_readings(*lot, characteristic["name"])]
    if values and rng.random() < 0.2:
        low, high = (Edge(rng, may_be_negative=False).near(abs(end)) for end in (min(values), max(values)))
        characteristic["plausible"] = {"lower": min(low, high), "upper": max(low, high)}
    if is_force:
        lay_limits_on_shares(rng, lot, rules["passes_outside_marks_at"]["percent"])
    return lot


def lay_limits_on_shares(rng: Random, lot: Lot, percent: float) -> None:
    """Lower limits whose share lies at a reading that broke outside the marks, or beside it."""
    name = lot.specification["characteristics"][0]["name"]
    aside = [each.value for each in standing_readings(*lot, name) if each.remark == "broke_outside_marks"]
    for requirement in lot.specification["requirements"]:
        if aside and requirement["kind"] == "each" and rng.random() < 0.7:
            edge = Edge(rng, may_be_negative=False)
            lower = edge.near(rng.choice(aside) * 100 / exact(percent))
            requirement["limits"] = {"lower": lower}
            if requirement.pop("outer", None) or rng.random() < 0.2:
                requirement["outer"] = {"lower": min(lower, edge.near(min(aside) * 100 / exact(percent)))}


def moist_lot(rng: Random) -> Lot:
    """A lot with requirements on a mass, a runnage or a linear density at an agreed regain."""
    name, member, of, units = rng.choice(
        (
            ("commercial_mass", "mass", "net_mass", ("kg", "g", "lb")),
            ("runnage", "of", "bare_runnage", ("m/kg", "ft/lb")),
            ("linear_density", "of", "bare_density", ("tex", "ktex", "den")),
        )
    )
    quantity = {"net_mass": "mass", "bare_runnage": "length_per_mass", "bare_density": "mass_per_length"}[of]
    moisture = {"name": rng.choice(("moisture_regain", "moisture_content")), "unit": rng.choice(("%", "1"))}
    measured = {"name": of, "quantity": quantity, "unit": rng.choice(units)}
    derived = {
        "kind": "commercial_mass" if member == "mass" else "at_standard_regain",
        member: of,
        "moisture": moisture["name"],
        "regain": rng.choice((0, 14, 13.75, 8.5, 12.4)),
        "moisture_by": rng.choice(("reading", "reading", "mean")),
    }
    values = column(rng, may_be_long=True, may_be_negative=False, may_be_zero=False)
    count = len(values) if derived["moisture_by"] == "reading" else rng.randint(1, 5)
    moistures = [rng.choice((12.5, 10.1, 14, 0, round(rng.uniform(0, 30), 2), 33.3)) for _ in range(count)]
    top = {"characteristic": of, "unit": measured["unit"], "values": values}
    bottom = {"characteristic": moisture["name"], "unit": "%", "values": [in_range(each, 1.0) for each in moistures]}
    if derived["moisture_by"] == "reading" and (packages := named(rng, len(values))) is not None:
        top["packages"] = bottom["packages"] = packages
    series = rng.choice(([top, bottom], [bottom, top], [top, bottom], [top]))
    characteristic = {"name": name, "unit": rng.choice(units), "derived": derived}
    evidence = {"lot": {"id": "L-1"}, "series": series}
    return with_requirements(rng, [measured, moisture, characteristic], evidence, characteristic)
