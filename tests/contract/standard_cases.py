"""Cases that published standards, laws and rulings give, and what has to come back by them; all answers by hand.

The source stands in what each case says. SEEN was read in a public source, CALC was computed from it.
"""

from collections.abc import Iterator, Sequence

from tests.contract.cases import Document, HandCase, lot, readings, specification

FORCE: Document = {"name": "breaking_force", "unit": "N"}
DECANEWTONS: Document = {"name": "breaking_force", "unit": "daN"}
NET: Document = {"name": "net_mass", "unit": "g"}
LENGTH: Document = {"name": "length", "unit": "m"}
LETTER_D: Document = {"plan": "code_letter", "table": "MIL-STD-414", "letter": "D", "aql": 1}
FIVE = (197, 188, 184, 205, 201)


def judged(
    name: str, says: str, requirement: Document, evidence: Document, finding: Document, *characteristics: Document
) -> HandCase:
    """A verdict by one requirement; `finding` is what has to be in the finding."""
    body = {"against": {"specification": specification(requirement, characteristics=characteristics)}, "evidence": evidence}
    answer = {"outcome": finding["outcome"], "findings": [finding]}
    return HandCase(name, says, "/v1/verdicts", body, answer)


def codes(*names: str) -> list[Document]:
    """Reasons of these codes."""
    return [{"code": name} for name in names]


def of_variables() -> Iterator[HandCase]:
    """Acceptance by variables."""

    def requirement(**members: object) -> Document:
        return {"kind": "variables", "of": "breaking_force", "limits": {"lower": 180}, **members}

    yield judged(
        "variables-letter-d",
        "MIL-STD-414 Table B-1, letter D at AQL 1.0: k 1.53 (SEEN); Q = 15/8.80341 = 1.70389 (CALC).",
        requirement(sample=LETTER_D),
        lot(readings(*FIVE)),
        {"outcome": "pass", "limits": {"lower": 180, "k": 1.53}, "reasons": codes("within")},
    )
    yield judged(
        "variables-letter-d-raised",
        "The same readings and a limit of 183: Q = 1.36311, below 1.53 (CALC).",
        requirement(sample=LETTER_D, limits={"lower": 183}),
        lot(readings(*FIVE)),
        {"outcome": "fail", "limits": {"lower": 183, "k": 1.53}, "reasons": codes("quality-below-k")},
    )
    yield judged(
        "variables-arrow",
        "MIL-STD-414 Table B-1: letter B at AQL 1.0 goes to C, with its 4 readings and its k of 1.45 (SEEN).",
        requirement(sample={**LETTER_D, "letter": "B"}),
        lot(readings(*FIVE[:3])),
        {
            "outcome": "undecided",
            "reasons": codes("readings-missing"),
            "missing": [{"characteristic": "breaking_force", "packages": 1, "readings": 1}],
        },
    )
    yield judged(
        "variables-content",
        "90 % of the lot with 95 % confidence from 5 readings: one-sided tolerance factor 3.407 (CALC).",
        requirement(content=90, confidence=95),
        lot(readings(*FIVE)),
        {"outcome": "fail", "reasons": codes("quality-below-k")},
    )
    yield judged(
        "variables-known-sigma",
        "15/10 is exactly the k of 1.5.",
        requirement(k=1.5, sigma=10),
        lot(readings(*FIVE)),
        {"outcome": "pass", "measured": {"value": 1.5}, "margin": 0, "reasons": codes("within")},
    )


def of_limits() -> Iterator[HandCase]:
    """Limits that depend on the lot, exclude their own value, or are guarded."""
    runnage: Document = {"name": "runnage", "unit": "m/kg"}
    law: Document = {"law": "reciprocal", "numerator": 32400, "of_mean": "runnage", "in": "daN"}
    whole = {**law, "rounding": {"step": 1, "toward": "down"}}
    for name, says, limit, number, force, finding in (
        (
            "limit-by-law-made-whole",
            "Ruling NY A85578, thick sample: 32 400/140.15, taken to whole daN, is 231 (SEEN).",
            whole,
            140.15,
            219.45,
            {"outcome": "fail", "limits": {"lower": 231}, "margin": -11.55},
        ),
        (
            "limit-by-law-thin",
            "The same ruling, thin sample: 41 daN (SEEN).",
            whole,
            790.2,
            45.4,
            {"outcome": "pass", "limits": {"lower": 41}, "margin": 4.4},
        ),
        (
            "limit-by-law-sisal",
            "Ruling HQ 082775: 32 400/500 less 18 are 46.80 daN; it prints 16.80, a misprint (SEEN + CALC).",
            {**law, "constant": -18},
            500,
            46.8,
            {"outcome": "pass", "limits": {"lower": 46.8}, "margin": 0},
        ),
    ):
        yield judged(
            name,
            says,
            {"kind": "mean", "of": "breaking_force", "limits": {"lower": limit}},
            lot(readings(force, unit="daN"), readings(number, of="runnage", unit="m/kg")),
            finding,
            DECANEWTONS,
            runnage,
        )
    yield judged(
        "limit-of-the-label",
        "ANSI/ASAE S315 as revised, by trade press: at least 98.5 % of the label, 8865 of 9000 ft (SEEN rule, CALC).",
        {"kind": "mean", "of": "length", "limits": {"lower": {"percent": 98.5, "of_declared": "label_length"}}},
        lot(readings(8870, of="length", unit="ft"), declared=[{"characteristic": "label_length", "value": 9000}]),
        {"outcome": "pass", "limits": {"lower": 8865}, "margin": 5},
        {"name": "length", "unit": "ft"},
        {"name": "label_length", "quantity": "length", "unit": "ft"},
    )
    yield judged(
        "limit-not-known",
        "Without the declared label there is no limit.",
        {"kind": "mean", "of": "length", "limits": {"lower": {"percent": 98.5, "of_declared": "label_length"}}},
        lot(readings(394, of="length", unit="m")),
        {"outcome": "undecided", "reasons": codes("limit-not-known")},
        LENGTH,
        {"name": "label_length", "quantity": "length", "unit": "m"},
    )
    yield judged(
        "limit-excluded",
        "More than 1400 N is not met by 1400 N.",
        {"kind": "mean", "of": "breaking_force", "limits": {"above": 1400}},
        lot(readings(1400)),
        {"outcome": "fail", "limits": {"above": 1400}, "margin": 0, "reasons": codes("below-lower")},
    )
    decision = {"rule": "guarded_acceptance", "uncertainty": {"expanded": 0.4, "coverage_factor": 2}, "between": "undecided"}
    for value, outcome, named in (
        (9.5, "pass", ("within",)),
        (9.6, "pass", ("within",)),
        (9.8, "undecided", ("between-guarded-limits", "above-upper")),
        (10.2, "undecided", ("between-guarded-limits", "above-upper")),
        (10.5, "fail", ("above-upper",)),
    ):
        yield judged(
            f"guarded-{value:g}".replace(".", "-"),
            f"ILAC-G8:09/2019, 4.2, rule that is not binary, upper limit 10.0, U = 0.4: {value} (SEEN rule, CALC).",
            {"kind": "mean", "of": "elongation_at_break", "limits": {"upper": 10}, "decision": decision},
            lot(readings(value, of="elongation_at_break", unit="%")),
            {"outcome": outcome, "reasons": codes(*named)},
            {"name": "elongation_at_break", "unit": "%"},
        )


def of_net_contents() -> Iterator[HandCase]:
    """Net contents by the directive and by the German law on length."""

    def contents(low: float, high: float, pairs: int) -> tuple[float, ...]:
        return (low, high) * pairs

    eu: Document = {"kind": "net_content", "of": "net_mass", "nominal": 1000, "rule": "eu-76-211"}
    yield judged(
        "content-on-average",
        "76/211/EEC Annex II 2.3, destructive: 20 packages of 998 and 1002 g average the nominal 1000 g (SEEN rule, CALC).",
        {**eu, "destructive": True},
        lot(readings(*contents(998, 1002, 10), of="net_mass", unit="g"), size=500),
        {"outcome": "pass"},
        NET,
    )
    yield judged(
        "content-short-on-average",
        "The same with a mean of 998 g and s = 2.05: 0.640·s lifts it to 999.3 g, below 1000 g (SEEN rule, CALC).",
        {**eu, "destructive": True},
        lot(readings(*contents(996, 1000, 10), of="net_mass", unit="g"), size=500),
        {"outcome": "fail"},
        NET,
    )
    yield judged(
        "length-by-range",
        "FPackV sections 9 and 28, Annex 4: 199.64 on average and 0.35 times the range of 1.5 are 200.165 m (SEEN rule, CALC).",
        {"kind": "net_content", "of": "length", "nominal": 200, "rule": "de-fpackv-length"},
        lot(readings(199.2, 200.4, 198.9, 200.1, 199.6, of="length", unit="m"), size=120),
        {"outcome": "pass"},
        LENGTH,
    )


def of_readings() -> Iterator[HandCase]:
    """What is known beside a reading, and what is worked out from moisture."""
    rope: Document = {"name": "breaking_force", "unit": "kN", "remarks": {"passes_outside_marks_at": {"percent": 90}}}
    strength: Document = {"kind": "each", "of": "breaking_force", "limits": {"lower": 100}}
    for name, value, outcome in (("outside-the-marks", 91, "pass"), ("outside-the-marks-too-weak", 89, "fail")):
        series = {**readings(value, 120, unit="kN"), "remarks": ["broke_outside_marks", ""]}
        yield judged(
            name,
            "ISO 2307:2010, 9.7.2: outside the marks 90 % of the minimum will do; the true force is not known (SEEN rule).",
            strength,
            lot(series),
            {"outcome": outcome},
            rope,
        )
    struck = {**readings(15, 120, unit="kN"), "remarks": ["struck", ""]}
    yield judged("struck-reading", "A struck reading is as if never sent.", strength, lot(struck), {"outcome": "pass"}, rope)
    plausible = {"name": "breaking_force", "unit": "kN", "plausible": {"lower": 10, "upper": 400}}
    yield judged(
        "implausible-reading",
        "Nobody knows yet whether 1200 kN was meant.",
        strength,
        lot(readings(1200, 120, unit="kN")),
        {"outcome": "undecided", "reasons": codes("implausible")},
        plausible,
    )
    yield judged(
        "calibration-overdue",
        "Nobody vouches for an instrument whose calibration has run out, and the grade asks for one that is in date.",
        strength,
        lot({**readings(120, unit="kN"), "calibration": "overdue"}, readings(125, unit="kN")),
        {"outcome": "undecided", "reasons": codes("calibration-overdue")},
        {"name": "breaking_force", "unit": "kN", "overdue_calibration": "undecided"},
    )
    yield judged(
        "calibration-overdue-taken",
        "Where the grade says nothing of it, such a reading is taken; the evidence keeps how the instrument stood.",
        strength,
        lot({**readings(120, unit="kN"), "calibration": "overdue"}),
        {"outcome": "pass", "margin": 20},
        {"name": "breaking_force", "unit": "kN"},
    )
    yield judged(
        "commercial-mass",
        "1000 kg with 12.5 % moisture content are 875 kg dry, and 997.5 kg at a regain of 14 % (CALC).",
        {"kind": "mean", "of": "commercial_mass", "limits": {"lower": 997.5}},
        lot(readings(1000, of="net_mass", unit="kg"), readings(12.5, of="moisture_content", unit="%")),
        {"outcome": "pass", "measured": {"value": 997.5}, "margin": 0},
        {"name": "net_mass", "unit": "kg"},
        {"name": "moisture_content", "unit": "%"},
        {
            "name": "commercial_mass",
            "quantity": "mass",
            "unit": "kg",
            "derived": {"kind": "commercial_mass", "mass": "net_mass", "moisture": "moisture_content", "regain": 14},
        },
    )


def of_counts() -> Iterator[HandCase]:
    """Acceptance by attributes."""
    table: Document = {"plan": "code_letter", "table": "MIL-STD-105E", "level": "II", "aql": 2.5}

    def requirement(**members: object) -> Document:
        return {"kind": "attributes", "class": "major", "faults": ["slub", "thin_place"], "sample": {**table, **members}}

    def counted(size: int, inspection: str | None = None, **numbers: object) -> Document:
        told: Document = {"id": "0412-07", "size": size}
        return {
            "lot": told if inspection is None else {**told, "inspection": inspection},
            "counts": [{"class": "major", **numbers}],
        }

    for name, says, evidence, members, finding in (
        (
            "letter-j-accepts",
            "MIL-STD-105E Table II-A: 1000 at level II are letter J, 80 packages, 5/6 at AQL 2.5 (SEEN).",
            counted(1000, inspected=80, nonconforming=5),
            {},
            {"outcome": "pass", "limits": {"accept": 5, "reject": 6}, "margin": 0},
        ),
        (
            "letter-j-rejects",
            "Six of the 80 reject.",
            counted(1000, inspected=80, nonconforming=6),
            {},
            {"outcome": "fail", "limits": {"accept": 5, "reject": 6}, "margin": -1},
        ),
        (
            "arrow-up",
            "Table II-A: letter D at 2.5 goes up to C, 5 packages, 0/1 (SEEN).",
            counted(30, inspected=5, nonconforming=0),
            {},
            {"outcome": "pass", "limits": {"accept": 0, "reject": 1}},
        ),
        (
            "arrow-down-takes-all",
            "Table II-A: letter B at 0.65 goes down to F, whose 20 packages are more than the lot of 12: all of them (SEEN).",
            counted(12, inspected=12, nonconforming=0),
            {"aql": 0.65},
            {"outcome": "pass", "limits": {"accept": 0, "reject": 1}},
        ),
        (
            "tightened-two-rows-down",
            "Table II-B: letter C at 6.5 goes two rows down to E, 13 packages, 1/2 (SEEN).",
            counted(20, "tightened", inspected=13, nonconforming=1),
            {"aql": 6.5},
            {"outcome": "pass", "limits": {"accept": 1, "reject": 2}},
        ),
        (
            "reduced-gap",
            "Table II-C: letter J at 2.5, 32 packages, 2/5; 3 accept this lot, and normal inspection follows (SEEN).",
            counted(1000, "reduced", inspected=32, nonconforming=3),
            {},
            {"outcome": "pass", "limits": {"accept": 2, "reject": 5}, "reasons": codes("accepted-in-gap")},
        ),
        (
            "double-plan-second-sample",
            "Table III-A: letter J at 2.5, 50 packages, 2/5; 3 neither accept nor reject (SEEN).",
            counted(1000, inspected=50, nonconforming=3),
            {"scheme": "double"},
            {"outcome": "undecided", "reasons": codes("second-sample-needed")},
        ),
    ):
        yield judged(name, says, requirement(**members), evidence, finding)
    both = {**counted(1000, inspected=50, nonconforming=3)}
    both["counts"] = [*both["counts"], {"class": "major", "stage": 2, "inspected": 50, "nonconforming": 3}]
    yield judged(
        "double-plan-both-samples",
        "The second 50 packages bring the number to 6, and 6/7 of both accepts (SEEN).",
        requirement(scheme="double"),
        both,
        {"outcome": "pass", "limits": {"accept": 6, "reject": 7}},
    )
    yield judged(
        "more-than-the-plan",
        "81 packages with 6 found: which of them are the 80 of the plan is not told.",
        requirement(),
        counted(1000, inspected=81, nonconforming=6),
        {"outcome": "undecided", "reasons": codes("more-than-plan")},
    )
    yield judged(
        "listed-packages",
        "Listed in the order drawn, the first 80 count: 5 of them have faults.",
        requirement(),
        counted(1000, by_package=[1, 2, 1, 1, 3, *[0] * 75, 4]),
        {"outcome": "pass", "limits": {"accept": 5, "reject": 6}, "measured": {"value": 5}},
    )
    yield judged(
        "knots-per-length",
        "4 knots in 5,000 m are 0.8 in 1,000.",
        {"kind": "rate", "faults": ["knot"], "per": {"value": 1000, "unit": "m"}, "at_most": 1},
        {
            "lot": {"id": "0412-07"},
            "counts": [{"fault": "knot", "occurrences": 4, "looked_at": {"value": 5, "unit": "km"}}],
        },
        {"outcome": "pass", "measured": {"value": 0.8}, "margin": 0.2},
    )


def of_plans() -> Iterator[HandCase]:
    """What to draw, before a lot is tested."""
    requirement: Document = {
        "kind": "attributes",
        "class": "major",
        "sample": {"plan": "code_letter", "table": "MIL-STD-105E", "level": "II", "aql": 2.5, "scheme": "double"},
    }
    yield HandCase(
        "draw-double-plan",
        "MIL-STD-105E Tables I and III-A: 1200 at level II are letter J; 50 packages with 2/5, then 50 more with 6/7 (SEEN).",
        "/v1/draws",
        {"against": {"specification": specification(requirement)}, "lot": {"size": 1200}},
        {
            "draws": [
                {"class": "major", "stage": 1, "packages": 50, "accept": 2, "reject": 5, "letter": "J"},
                {"class": "major", "stage": 2, "packages": 50, "accept": 6, "reject": 7, "letter": "J"},
            ],
            "packages": 50,
        },
    )
    by_class = [
        {
            "kind": "attributes",
            "class": name,
            "sample": {"plan": "code_letter", "table": "MIL-STD-105E", "level": "II", "aql": 2.5},
        }
        for name in ("critical", "major", "minor")
    ]
    yield HandCase(
        "draw-class-by-class",
        "MIL-STD-105E Tables II-A, II-B and II-C, letter J at AQL 2.5: 5/6 of 80, 3/4 of 80, 2/5 of 32 (SEEN). The first is "
        "tightened, the last reduced.",
        "/v1/draws",
        {
            "against": {"specification": specification(*by_class)},
            "lot": {
                "size": 1200,
                "inspections": [
                    {"class": "critical", "inspection": "tightened"},
                    {"requirement": "r3", "inspection": "reduced"},
                ],
            },
        },
        {
            "draws": [
                {"class": "critical", "packages": 80, "accept": 3, "reject": 4, "letter": "J"},
                {"class": "major", "packages": 80, "accept": 5, "reject": 6, "letter": "J"},
                {"class": "minor", "packages": 32, "accept": 2, "reject": 5, "letter": "J"},
            ],
            "packages": 80,
        },
    )
    yield HandCase(
        "draw-by-coils",
        "ISO 2307:2010, 6.4: 22,000 m are 100 coils of 220 m, and 0.4 times the root of 100 are 4 (SEEN rule, CALC).",
        "/v1/draws",
        {
            "against": {
                "specification": specification(
                    {"kind": "mean", "of": "breaking_force", "limits": {"lower": 1}},
                    characteristics=[
                        {
                            **FORCE,
                            "sample": {"plan": "square_root", "factor": 0.4, "counted_in": {"value": 220, "unit": "m"}},
                        }
                    ],
                )
            },
            "lot": {"length": {"value": 22000, "unit": "m"}},
        },
        {"draws": [{"characteristic": "breaking_force", "packages": 4}], "packages": 4},
    )


GROUPS = (of_variables, of_limits, of_net_contents, of_readings, of_counts, of_plans)


def all_standard_cases() -> Sequence[HandCase]:
    """Every one."""
    return [case for group in GROUPS for case in group()]
