"""Digests, worked out here again from their recipe with the standard library alone."""

import json
import struct
from hashlib import sha256

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.engine.documents import canonical, canonical_line, digest_of
from tests.support.grades import DIRECTION, FORCE, Document, declared, each, grade, lot, series
from tests.support.judging import compiled, judged

SPECIFICATION = grade(each(lower=1120), declared("Z", 1.0, of="twist_direction"), of=[FORCE, DIRECTION])


def values_digest(values: list[float]) -> str:
    """`sha256:…` of the doubles, IEEE 754, big-endian, −0 as 0."""
    return "sha256:" + sha256(b"".join(struct.pack(">d", 0.0 if value == 0 else value) for value in values)).hexdigest()


def digest_by_hand(evidence: Document) -> str:
    """The recipe of the guide: each `values` by its digest, then members in order, no white space, UTF-8.

    json writes whole numbers, texts and booleans as RFC 8785 does; the evidence here has no other declared numbers.
    """
    columns = [{**each, "values": values_digest(each["values"])} for each in evidence.get("series", [])]
    document = {**evidence, "series": columns} if "series" in evidence else evidence
    text = json.dumps(document, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return "sha256:" + sha256(text.encode()).hexdigest()


EVIDENCE = [
    lot(),
    lot(size=480),
    {"lot": {"id": "L-1", "size": 480, "inspection": "tightened"}},
    {"lot": {"id": "L-1", "inspections": []}},
    {"lot": {"id": "L-1", "inspections": [{"requirement": "r0", "inspection": "tightened"}], "size": 480}},
    {"lot": {"size": 480, "mass": {"value": 4320.5, "unit": "kg"}, "length": {"value": 62400, "unit": "m"}, "id": "L-1"}},
    lot(series(1400, 1392.4)),
    lot({**series(1392.4), "calibration": "overdue", "method": "by hand"}),
    lot(series()),
    lot(series(0.1, 1e-9, 1e12, 123456789.125), size=1),
    lot(series(1400, -0.0, packages=["b1", 'Knäuel 2 "☃" \\ 𝄞'])),
    lot(series(1400), series(320.5, 321, unit="lbf"), declared={"twist_direction": "Z"}),
    lot(declared={"twist_direction": True}),
    lot(declared={"twist_direction": 3}),
    lot(series(*[1300 + number / 8 for number in range(64)])),
    lot(series(*[0.0, -0.0, *[number / 7 for number in range(1, 99)]])),
]


@pytest.mark.parametrize("evidence", EVIDENCE)
def test_the_digest_of_evidence_follows_its_recipe(evidence: Document) -> None:
    """Whoever holds the evidence can prove, without us, that a verdict rests on it."""
    assert digest_by_hand(evidence) == judged(SPECIFICATION, evidence)["evidence"]


def test_the_digest_of_a_specification_is_of_its_canonical_form() -> None:
    """Members in order, no white space; 1.0 is 1, and 1e-7 is written so."""
    document = {
        "requirements": [{"of": "strands", "limits": {"upper": 1.0, "lower": 1e-7}, "kind": "mean", "id": "r"}],
        "characteristics": [{"unit": "1", "name": "strands"}],
    }
    text = (
        '{"characteristics":[{"name":"strands","unit":"1"}],'
        '"requirements":[{"id":"r","kind":"mean","limits":{"lower":1e-7,"upper":1},"of":"strands"}]}'
    )

    assert "sha256:" + sha256(text.encode()).hexdigest() == compiled(document).digest


@pytest.mark.parametrize(
    ("value", "shape"), [(1.5, "1.5"), (1e-7, "1e-7"), (0.000001, "0.000001"), (-0.0, "0"), (3.0, "3"), (1e12, "1000000000000")]
)
def test_declared_numbers_are_written_as_the_standard_says(value: float, shape: str) -> None:
    """A declared 1e-7 is `1e-7`, not Python's `1e-07`; −0 is `0`. Source of the shapes: RFC 8785, 3.2.2.3."""
    text = f'{{"declared":[{{"characteristic":"twist_direction","value":{shape}}}],"lot":{{"id":"L-1"}}}}'

    assert (
        "sha256:" + sha256(text.encode()).hexdigest()
        == (judged(SPECIFICATION, lot(declared={"twist_direction": value}))["evidence"])
    )


def test_what_is_left_out_and_what_is_empty_are_told_apart() -> None:
    """The digest is of the document as sent."""
    assert judged(SPECIFICATION, lot())["evidence"] != judged(SPECIFICATION, {**lot(), "series": []})["evidence"]


def test_every_reading_counts_in_the_digest() -> None:
    """Nobody changes a reading by one in the last place without its being seen."""
    one, other = lot(series(0.3)), lot(series(0.30000000000000004))

    assert judged(SPECIFICATION, one)["evidence"] != judged(SPECIFICATION, other)["evidence"]


def test_members_stand_in_the_order_of_their_utf_16_units() -> None:
    """The published example. Source: RFC 8785, 3.2.3."""
    document = {
        "\u20ac": "Euro Sign",
        "\r": "Carriage Return",
        "\ufb33": "Hebrew Letter Dalet With Dagesh",
        "1": "One",
        "\U0001f600": "Emoji: Grinning Face",
        "\u0080": "Control",
        "\u00f6": "Latin Small Letter O With Diaeresis",
    }

    assert ["\r", "1", "\u0080", "\u00f6", "\u20ac", "\U0001f600", "\ufb33"] == list(json.loads(canonical(document)))


def test_numbers_and_texts_have_one_shape() -> None:
    """The published example. Source: RFC 8785, 3.2.2 and 3.2.3."""
    document = {
        "numbers": [333333333.33333329, 1e30, 4.50, 2e-3, 0.000000000000000000000000001],
        "string": "\u20ac$\u000f\u000aA'\u0042\u0022\u005c\\\"\u002f",
        "literals": [None, True, False],
    }

    assert (
        '{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],'
        '"string":"€$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}'
    ) == canonical(document).decode()


def test_a_digest_names_its_function() -> None:
    """Of nothing, the published digest. Source: FIPS 180-4, as given in NIST's example values."""
    assert "sha256:e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855" == digest_of(b"")


NAMES = st.text(st.characters(min_codepoint=0x20, max_codepoint=0x7E), max_size=8)
VALUES = st.one_of(
    st.text(st.characters(exclude_categories=["Cs"])), st.integers(1 - 2**53, 2**53 - 1), st.booleans(), st.none()
)


@given(st.dictionaries(NAMES, VALUES))
def test_a_flat_line_has_its_canonical_form_by_either_way(members: dict[str, str | int | bool | None]) -> None:
    """The journal's entries are chained by these bytes, which anybody can make again with RFC 8785 at hand."""
    assert canonical(members) == canonical_line(members)
