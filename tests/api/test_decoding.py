"""Bodies become documents strictly, and a refusal points to every place at once."""

import json
import re
from typing import Any

import pytest

from service.api.strict.decoding import Shape, decode
from service.api.strict.grammar import NotJsonError
from service.engine.documents import Check, Evidence, FlawedDocumentError
from service.engine.grade import Specification
from service.usecases.sampling_plans import PlanRequest

CHECK, EVIDENCE, SPECIFICATION, PLAN = Shape(Check), Shape(Evidence), Shape(Specification), Shape(PlanRequest)
GOOD = b'{"grade": "TB-130", "characteristic": "runnage", "unit": "m/kg", "value": 130}'


def flaws_of(body: bytes, shape: Shape[Any]) -> list[tuple[str, str]]:
    """(where, code) of each flaw."""
    with pytest.raises(FlawedDocumentError) as refused:
        decode(body, shape)
    return [(flaw.at, flaw.code) for flaw in refused.value.flaws]


def check_with(**members: object) -> bytes:
    """A good check with some members set otherwise."""
    return json.dumps(json.loads(GOOD) | members).encode()


def test_a_good_check_is_taken() -> None:
    """A station's ordinary request; the whole number is a number like any other."""
    assert Check("TB-130", "runnage", "m/kg", 130.0) == decode(GOOD, CHECK)


@pytest.mark.parametrize(
    ("body", "code", "at"),
    [
        (b"", "empty-body", ""),
        (b" \n", "empty-body", ""),
        (GOOD[:30], "not-json", ""),
        (GOOD + b"1", "not-json", ""),
        (b"grade", "not-json", ""),
        (b"\xef\xbb\xbf" + GOOD, "byte-order-mark", ""),
        (GOOD.decode().encode("utf-16"), "not-utf-8", ""),
        (GOOD.replace(b"TB", b"\xff"), "not-utf-8", ""),
        (GOOD.replace(b"TB", b"\xed\xa0\x80"), "not-utf-8", ""),
        (GOOD.replace(b"TB", b"\\ud800"), "lone-surrogate", "/grade"),
        (GOOD.replace(b"130}", b"NaN}"), "not-a-number", "/value"),
        (GOOD.replace(b"130}", b"-Infinity}"), "not-a-number", "/value"),
        (GOOD.replace(b"130}", b"130, }"), "not-json", ""),
        (GOOD.replace(b"130}", b'130, "value": 131}'), "duplicate-key", "/value"),
        (GOOD.replace(b"130}", b'130, "\\u0076alue": 131}'), "duplicate-key", "/value"),
        (GOOD.replace(b"m/kg", b"m\nkg"), "not-json", ""),
        (b"[" * 100_000, "nested-too-deep", ""),
        (b'{"a":' * 100_000, "nested-too-deep", ""),
        (b"[" * 1_000_000, "too-many-parts", ""),
    ],
)
def test_what_is_not_json_is_refused_with_its_place(body: bytes, code: str, at: str) -> None:
    """What two readers could read differently would be judged differently."""
    with pytest.raises(NotJsonError) as refused:
        decode(body, CHECK)

    assert [(at, code)] == [(flaw.at, flaw.code) for flaw in refused.value.flaws]


@pytest.mark.parametrize(
    ("members", "code", "at"),
    [
        ({"value": "130"}, "wrong-type", "/value"),
        ({"value": True}, "wrong-type", "/value"),
        ({"value": None}, "wrong-type", "/value"),
        ({"value": [130]}, "wrong-type", "/value"),
        ({"revision": 1.0}, "not-whole", "/revision"),
        ({"revision": True}, "wrong-type", "/revision"),
        ({"revision": "1"}, "wrong-type", "/revision"),
        ({"revision": None}, "wrong-type", "/revision"),
        ({"revision": 0}, "below-least", "/revision"),
        ({"revision": 10**30}, "above-greatest", "/revision"),
        ({"grade": 130}, "wrong-type", "/grade"),
        ({"grade": ""}, "not-a-code", "/grade"),
        ({"grade": "TB 130"}, "not-a-code", "/grade"),
        ({"grade": "TB-130\n"}, "control-character", "/grade"),
        ({"grade": "x" * 65}, "too-long", "/grade"),
        ({"characteristic": "run nage"}, "not-a-name", "/characteristic"),
        ({"unit": "m\tkg"}, "control-character", "/unit"),
        ({"unit": "m\x7fkg"}, "control-character", "/unit"),
        ({"unit": "m\x85kg"}, "control-character", "/unit"),
        ({"unit": "m\x00kg"}, "control-character", "/unit"),
        ({"unit": ""}, "too-short", "/unit"),
        ({"unit": "x" * 33}, "too-long", "/unit"),
        ({"valeu": 1}, "unknown-field", "/valeu"),
        ({"a/b~c": 1}, "unknown-field", "/a~1b~0c"),
    ],
)
def test_a_member_of_the_wrong_shape_is_pointed_to(members: dict[str, object], code: str, at: str) -> None:
    """The integrator reads which member is wrong and why, and need not guess."""
    assert [(at, code)] == flaws_of(check_with(**members), CHECK)


@pytest.mark.parametrize("sign", [b"\x7f", b"\xc2\x85"])
def test_a_control_character_sent_raw_is_refused_too(sign: bytes) -> None:
    """DEL and C1 may stand raw in JSON, and would break a printed verdict all the same."""
    assert [("/unit", "control-character")] == flaws_of(GOOD.replace(b"m/kg", b"m" + sign), CHECK)


@pytest.mark.parametrize("number", [b"1e999", b"-1e999", b"1e13", b"1e-10", b"1" * 400, b"1" * 5000, b"-" + b"1" * 5000])
def test_a_number_beyond_the_range_is_a_flaw_when_others_are_there(number: bytes) -> None:
    """A magnitude that no reading has is a slip of the unit, and never a fault of ours."""
    body = GOOD.replace(b"130}", number + b', "x": 1}')

    assert [("/value", "beyond-range"), ("/x", "unknown-field")] == flaws_of(body, CHECK)


def test_every_flaw_is_told_at_once_and_in_the_order_of_the_document() -> None:
    """A caller who mends one flaw a request gives up at the third."""
    body = b'{"value": "130", "grade": null, "extra": 1}'

    assert [
        ("/value", "wrong-type"),
        ("/grade", "wrong-type"),
        ("/extra", "unknown-field"),
        ("/characteristic", "missing-field"),
        ("/unit", "missing-field"),
    ] == flaws_of(body, CHECK)


def test_an_unknown_kind_says_only_that() -> None:
    """The fields of a kind that is not known here can't be told right from wrong."""
    body = b'{"characteristics": [{"name": "runnage"}], "requirements": [{"kind": "guessed", "of": 1, "plan": "x"}]}'
    with pytest.raises(FlawedDocumentError) as refused:
        decode(body, SPECIFICATION)

    assert [("/requirements/0/kind", "not-known-here")] == [(flaw.at, flaw.code) for flaw in refused.value.flaws]
    known = "Use `each`, `mean`, `spread`, `variables`, `declared`, "
    assert refused.value.flaws[0].text.startswith(f"`guessed` is not known here. {known}")


def test_each_number_of_a_bounded_list_is_held_to_its_bound() -> None:
    """The quick look at a column must not let one pass that the type refuses."""
    body = b'{"sample": {"plan": "fixed", "packages": 5}, "at_most": 0, "qualities": [1, 10001]}'

    assert [("/qualities/1", "above-greatest")] == flaws_of(body, PLAN)


def test_an_unknown_plan_says_which_there_are() -> None:
    """A plan of a later release gets a sentence, not a guess."""
    sample = {"plan": "skip_lot", "at_least": 3}
    document = {"characteristics": [{"name": "runnage", "unit": "m/kg", "sample": sample}], "requirements": []}

    assert [("/characteristics/0/sample/plan", "not-known-here")] == flaws_of(json.dumps(document).encode(), SPECIFICATION)


@pytest.mark.parametrize(
    ("sample", "flaws"),
    [
        ({"plan": "percent", "percent": 10, "at_most": 0}, [("/at_most", "below-least")]),
        ({"plan": "percent", "percent": 10, "counted_in": 220}, [("/counted_in", "wrong-type")]),
        (
            {"plan": "square_root", "factor": 0.4, "counted_in": {"value": 0}},
            [("/counted_in/unit", "missing-field"), ("/counted_in/value", "below-least")],
        ),
        ({"plan": "bands"}, [("/bands", "missing-field")]),
        ({"plan": "bands", "bands": []}, [("/bands", "too-short")]),
        ({"plan": "bands", "bands": [{"packages": 3}] * 101}, [("/bands", "too-long")]),
        ({"plan": "bands", "bands": [{"up_to": 100.5, "packages": 3}]}, [("/bands/0/up_to", "not-whole")]),
        ({"plan": "bands", "bands": [{"up_to": None, "packages": 3}]}, [("/bands/0/up_to", "wrong-type")]),
        (
            {"plan": "code_letter", "table": "ISO 2859-1", "level": "IIX", "aql": 0},
            [("/aql", "below-least"), ("/level", "not-known-here"), ("/table", "not-known-here")],
        ),
        (
            {"plan": "code_letter", "letter": "j", "scheme": "multiple", "aql": "2.5"},
            [
                ("/aql", "wrong-type"),
                ("/letter", "not-known-here"),
                ("/scheme", "not-known-here"),
                ("/table", "missing-field"),
            ],
        ),
        ({"plan": "fixed", "packages": 5, "at_most": 2}, [("/at_most", "unknown-field")]),
    ],
)
def test_a_plan_is_decoded_strictly(sample: dict[str, object], flaws: list[tuple[str, str]]) -> None:
    """A plan that is read otherwise than it was meant draws other packages."""
    document = {"characteristics": [{"name": "runnage", "unit": "m/kg", "sample": sample}], "requirements": []}
    at = "/characteristics/0/sample"

    assert [(at + place, code) for place, code in flaws] == sorted(flaws_of(json.dumps(document).encode(), SPECIFICATION))


@pytest.mark.parametrize(
    ("members", "at", "code"),
    [
        ({"inspection": "lax"}, "/lot/inspection", "not-known-here"),
        ({"length": 1200}, "/lot/length", "wrong-type"),
        ({"length": {"value": 1200}}, "/lot/length/unit", "missing-field"),
        ({"mass": {"value": -1, "unit": "kg"}}, "/lot/mass/value", "below-least"),
        ({"mass": {"value": 1, "unit": "kg", "of": "lot"}}, "/lot/mass/of", "unknown-field"),
    ],
)
def test_what_is_told_of_a_lot_is_decoded_strictly(members: dict[str, object], at: str, code: str) -> None:
    """It says how many packages to draw."""
    assert [(at, code)] == flaws_of(json.dumps({"lot": {"id": "1", **members}}).encode(), EVIDENCE)


def test_a_colon_in_a_text_is_no_key() -> None:
    """Colons are counted to find keys that stand twice; one in a package's id must not be taken for one."""
    body = b'{"lot": {"id": "1"}, "series": [{"characteristic": "a", "unit": "N", "values": [1], "packages": ["pallet:1"]}]}'
    series = decode(body, EVIDENCE).series

    assert series
    assert ["pallet:1"] == series[0].packages


def test_a_key_twice_is_found_where_a_text_lacks_a_colon_or_has_one() -> None:
    """The count alone must not be outwitted by a colon that makes up for a key."""
    body = b'{"lot": {"id": "1", "id": "2"}, "series": [{"characteristic": "a", "unit": "a:b", "values": []}]}'
    with pytest.raises(NotJsonError) as refused:
        decode(body, EVIDENCE)

    assert ["/lot/id"] == [flaw.at for flaw in refused.value.flaws]


SHORT_LOT = (
    b'{"lot": {"id": "1", "size": 480, "length": {"value": 1200, "unit": "m"}}, '
    b'"series": [{"characteristic": "a", "unit": "N", "values": [1.5], "packages": ["x:1"]}], '
    b'"declared": [{"characteristic": "b", "value": "Z"}]}'
)


@pytest.mark.parametrize("key", re.findall(rb'"(\w+)": ', SHORT_LOT))
def test_each_key_of_a_short_lot_is_found_twice(key: bytes) -> None:
    """Whatever it holds, and wherever it stands."""
    assert decode(SHORT_LOT, EVIDENCE)
    body = SHORT_LOT.replace(b'"%b": ' % key, b'"%b": 0, "%b": ' % (key, key), 1)
    with pytest.raises(NotJsonError) as refused:
        decode(body, EVIDENCE)

    assert ["duplicate-key"] == [flaw.code for flaw in refused.value.flaws]


LONG_SERIES = b'{"characteristic": "a", "unit": "N", "values": [' + b", ".join([b"1.5"] * 1000) + b"]}"


@pytest.mark.parametrize(
    ("lot", "last", "at"),
    [
        (b'{"id": "1", "id": "2"}', LONG_SERIES, "/lot/id"),
        (b'{"id": "1"}', LONG_SERIES[:-1] + b', "unit": "N"}', "/series/1/unit"),
        (b'{"id": "1"}', LONG_SERIES[:-1] + b', "values": []}', "/series/1/values"),
    ],
)
def test_a_key_twice_is_found_before_and_behind_a_long_column(lot: bytes, last: bytes, at: str) -> None:
    """Colons are looked for, not counted, where few keys stand between long columns; none may be missed."""
    body = b'{"lot": ' + lot + b', "series": [' + LONG_SERIES + b", " + last + b"]}"
    with pytest.raises(NotJsonError) as refused:
        decode(body, EVIDENCE)

    assert [(at, "duplicate-key")] == [(flaw.at, flaw.code) for flaw in refused.value.flaws]


def test_a_long_column_is_taken_as_it_is() -> None:
    """With just as many colons as keys, and with one more in a text."""
    for unit in (b'"N"', b'"m:N"'):
        body = b'{"lot": {"id": "1"}, "series": [' + LONG_SERIES.replace(b'"N"', unit) + b"]}"
        series = decode(body, EVIDENCE).series

        assert series
        assert [1.5] * 1000 == series[0].values


def test_a_long_column_of_bad_readings_is_cut_short() -> None:
    """Half a megabyte of texts where numbers belong must not become an answer of megabytes: the search ends at 1,000."""
    body = json.dumps({"lot": {"id": "1"}, "series": [{"characteristic": "a", "unit": "N", "values": ["1"] * 100_000}]})

    assert 1_000 == len(flaws_of(body.encode(), EVIDENCE))


def test_what_the_caller_wrote_is_quoted_short() -> None:
    """A megabyte sent as a name is not sent back."""
    with pytest.raises(FlawedDocumentError) as refused:
        decode(check_with(**{"x" * 1_000_000: 1}), CHECK)

    assert [("", "unknown-field")] == [(flaw.at, flaw.code) for flaw in refused.value.flaws]
    assert 110 > len(refused.value.flaws[0].text)
