"""Single readings, and requests with flaws; all answers by hand."""

from tests.contract.cases import CheckCase, Document, FlawCase, lot, on, readings, specification

GRADE = "VECTORS-1"
GRADES: dict[str, Document] = {
    GRADE: specification(
        on("each", limits={"lower": 1120}, allowed_outside={"count": 1}, outer={"lower": 980}),
        on("mean", limits={"lower": 1400}),
        on("each", "twist", limits={"lower": 36, "upper": 42}, rounding={"step": 1, "ties": "even"}),
        on("mean", "runnage", limits={"nominal": 130, "minus": 5, "plus": 5, "tolerance": "percent"}),
        on("each", "net_mass", limits={"lower": 2.5}),
        on("each", "net_mass", limits={"lower": 2.6}, binding=False),
        on("each", "net_mass", over="packages", limits={"lower": 2.55}),
        on("declared", "twist_direction", one_of=["Z"]),
        characteristics=[
            {"name": "breaking_force", "unit": "N"},
            {"name": "twist", "unit": "turn/m"},
            {"name": "runnage", "unit": "m/kg"},
            {"name": "net_mass", "unit": "kg"},
            {"name": "twist_direction"},
        ],
    )
}


def check(characteristic: str, unit: str, value: float) -> Document:
    """A check against the grade."""
    return {"grade": GRADE, "characteristic": characteristic, "unit": unit, "value": value}


def finding(requirement: str, outcome: str, code: str, **members: object) -> Document:
    """What has to be in a finding."""
    return {"requirement": requirement, "outcome": outcome, "reasons": [{"code": code}], **members}


CHECKS = [
    CheckCase(
        "check-inside",
        "Inside the limits; the mean's limit stands beside it.",
        check("breaking_force", "N", 1432.5),
        {
            "outcome": "pass",
            "findings": [finding("r1", "pass", "within", margin=312.5)],
            "with_others": [{"requirement": "r2", "difference": 32.5}],
        },
    ),
    CheckCase(
        "check-on-the-limit",
        "Limits are inclusive.",
        check("breaking_force", "N", 1120),
        {"outcome": "pass", "findings": [finding("r1", "pass", "within", margin=0)]},
    ),
    CheckCase(
        "check-outside-if-allowed",
        "Of a lot one may be outside, so the reading by itself decides nothing.",
        check("breaking_force", "N", 1119.5),
        {"outcome": "undecided", "findings": [finding("r1", "undecided", "outside-if-allowed")]},
    ),
    CheckCase(
        "check-beyond-outer",
        "No reading may be beyond the outer limit.",
        check("breaking_force", "N", 979.5),
        {"outcome": "fail", "findings": [finding("r1", "fail", "beyond-outer", margin=-0.5)]},
    ),
    CheckCase(
        "check-in-kilonewtons",
        "A unit is converted exactly.",
        check("breaking_force", "kN", 1.12),
        {"outcome": "pass", "findings": [finding("r1", "pass", "within", margin=0, measured={"value": 1120, "unit": "N"})]},
    ),
    CheckCase(
        "check-rounded",
        "35.5 becomes 36, which is on the limit.",
        check("twist", "turn/m", 35.5),
        {"outcome": "pass", "findings": [finding("r3", "pass", "within", margin=0, measured={"value": 36, "observed": 35.5})]},
    ),
    CheckCase(
        "check-above-upper",
        "42.51 becomes 43.",
        check("twist", "turn/m", 42.51),
        {"outcome": "fail", "findings": [finding("r3", "fail", "above-upper", margin=-1)]},
    ),
    CheckCase(
        "check-no-single-limit",
        "Only the mean has a limit: never a pass.",
        check("runnage", "m/kg", 130),
        {
            "outcome": "undecided",
            "findings": [],
            "reasons": [{"code": "no-single-limit"}],
            "with_others": [
                {"requirement": "r4", "difference": 6.5, "limits": {"lower": 123.5, "upper": 136.5, "nominal": 130}}
            ],
        },
    ),
    CheckCase(
        "check-turned-round",
        "8000 tex are 125 m/kg.",
        check("runnage", "tex", 8000),
        {"outcome": "undecided", "with_others": [{"requirement": "r4", "difference": 1.5}]},
    ),
    CheckCase(
        "check-not-binding",
        "A finding that is not binding moves nothing.",
        check("net_mass", "kg", 2.5),
        {
            "outcome": "pass",
            "findings": [
                finding("r5", "pass", "within", margin=0, binding=True),
                finding("r6", "fail", "below-lower", margin=-0.1, binding=False),
            ],
            "with_others": [{"requirement": "r7", "difference": -0.05}],
        },
    ),
    CheckCase(
        "check-below-lower",
        "None may be outside.",
        check("net_mass", "g", 2499.5),
        {"outcome": "fail", "findings": [finding("r5", "fail", "below-lower", margin=-0.0005), {"requirement": "r6"}]},
    ),
]


def verdict(rules: Document, evidence: Document) -> Document:
    """A request for a verdict."""
    return {"against": {"specification": rules}, "evidence": evidence}


GOOD = specification(on("mean", limits={"lower": 1400}))
TWICE = specification(on("mean", limits={"lower": 1}), on("mean", limits={"lower": 2}))
TWICE["requirements"][1]["id"] = "r1"
VERDICTS, CHECKING, SPECIFICATION = "/v1/verdicts", "/v1/checks", "/against/specification"
FLAWS = [
    FlawCase(
        "flaw-unknown-grade",
        "An unknown grade in a body is a flaw of it.",
        CHECKING,
        check("twist", "turn/m", 1) | {"grade": "NO-SUCH"},
        [("/grade", "unknown-grade")],
    ),
    FlawCase(
        "flaw-pound-of-force",
        "`lb` is a mass.",
        CHECKING,
        check("breaking_force", "lb", 300),
        [("/unit", "unit-of-other-quantity")],
    ),
    FlawCase(
        "flaw-unknown-unit", "No such unit.", CHECKING, check("breaking_force", "newton", 300), [("/unit", "unknown-unit")]
    ),
    FlawCase(
        "flaw-unknown-characteristic",
        "No such characteristic.",
        CHECKING,
        check("breaking_fore", "N", 300),
        [("/characteristic", "unknown-characteristic")],
    ),
    FlawCase(
        "flaw-category-measured",
        "A category is not measured.",
        CHECKING,
        check("twist_direction", "1", 1),
        [("/characteristic", "category-not-measured")],
    ),
    FlawCase(
        "flaw-negative-force", "Only a ratio is negative.", CHECKING, check("breaking_force", "N", -1), [("/value", "negative")]
    ),
    FlawCase(
        "flaw-beyond-range",
        "Magnitudes end at 1e12.",
        CHECKING,
        check("breaking_force", "N", 1.1e12),
        [("/value", "beyond-range")],
    ),
    FlawCase(
        "flaw-number-as-text",
        "A text is no number.",
        CHECKING,
        check("breaking_force", "N", 1) | {"value": "1432"},
        [("/value", "wrong-type")],
    ),
    FlawCase(
        "flaw-boolean-as-number",
        "A boolean is no number.",
        CHECKING,
        check("breaking_force", "N", 1) | {"value": True},
        [("/value", "wrong-type")],
    ),
    FlawCase(
        "flaw-missing-and-unknown",
        "All flaws at once.",
        CHECKING,
        {"grade": GRADE, "characteristic": "twist", "unit": "turn/m", "val": 3},
        [("/val", "unknown-field"), ("/value", "missing-field")],
    ),
    FlawCase(
        "flaw-limits-upside-down",
        "Lower above upper.",
        VERDICTS,
        verdict(specification(on("mean", limits={"lower": 2, "upper": 1})), lot(readings(1))),
        [(f"{SPECIFICATION}/requirements/0/limits", "limits-upside-down")],
    ),
    FlawCase(
        "flaw-nothing-binding",
        "Every lot would pass.",
        VERDICTS,
        verdict(specification(on("mean", limits={"lower": 2}, binding=False)), lot(readings(1))),
        [(f"{SPECIFICATION}/requirements", "nothing-binding")],
    ),
    FlawCase(
        "flaw-id-twice",
        "An id stands once.",
        VERDICTS,
        verdict(TWICE, lot(readings(1))),
        [(f"{SPECIFICATION}/requirements/1/id", "id-twice")],
    ),
    FlawCase(
        "flaw-kind-there-is-not",
        "A kind of a later day.",
        VERDICTS,
        verdict(specification(on("mean", limits={"lower": 2}), on("guessed")), lot(readings(1))),
        [(f"{SPECIFICATION}/requirements/1/kind", "not-known-here")],
    ),
    FlawCase(
        "flaw-packages-and-values",
        "One id a value.",
        VERDICTS,
        verdict(GOOD, lot(readings(1, 2, packages=["a"]))),
        [("/evidence/series/0/packages", "packages-differ-in-number")],
    ),
    FlawCase(
        "flaw-readings-of-nothing",
        "The grade has no such characteristic.",
        VERDICTS,
        verdict(GOOD, lot(readings(1, of="twist", unit="turn/m"))),
        [("/evidence/series/0/characteristic", "unknown-characteristic")],
    ),
    FlawCase(
        "flaw-zero-turned-round",
        "0 tex has no runnage.",
        VERDICTS,
        verdict(
            specification(on("mean", "runnage", limits={"lower": 2}), characteristics=[{"name": "runnage", "unit": "m/kg"}]),
            lot(readings(1, 0, of="runnage", unit="tex")),
        ),
        [("/evidence/series/0/values/1", "zero-turned-round")],
    ),
]
