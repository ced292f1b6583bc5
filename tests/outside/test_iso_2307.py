"""The number of specimens that ISO 2307 takes from a batch of rope, by the plan `square_root`."""

import pytest

from tests.support.engine_answers import Document, finding_on

PLAN = {"plan": "square_root", "factor": 0.4}


@pytest.mark.parametrize(
    ("coils", "samples"),
    # 0.4 times the root: 27.5 for 4727 coils (27.501), 30.35 for 5757 (30.350), the standard's own two examples.
    [(1, 1), (14, 1), (15, 2), (39, 2), (40, 3), (100, 4), (4727, 28), (5757, 30)],
)
def test_so_many_coils_are_sampled_from_a_batch(coils: int, samples: int) -> None:
    """A lot with nothing tested yet is told how many coils to test.

    Source: ISO 2307:2010, 6.4: 0.4 times the root of the number of 220 m coils, to the nearest whole, at least one
    (reference C4).
    """
    assert asked_for(samples) == finding_on(sampled_by(PLAN), {"lot": {"id": "L-1", "size": coils}})["missing"]


@pytest.mark.parametrize(("coils", "samples"), [(1, 1), (14, 1), (15, 2), (39, 2), (40, 3), (100, 4)])
@pytest.mark.parametrize(("metres", "unit", "factor"), [(220, "m", 1), (0.22, "km", 1), (440, "m", 2)])
def test_the_coils_are_counted_by_the_length_of_the_batch(
    coils: int, samples: int, metres: float, unit: str, factor: int
) -> None:
    """A batch is wound as the buyer likes it, and is still counted in coils of 220 m.

    Source: ISO 2307:2010, 6.4, which counts coils of 220 m, or a batch in pieces of that length (reference C4).
    """
    specification = sampled_by({**PLAN, "counted_in": {"value": metres, "unit": unit}})
    length = {"value": 220 * coils * factor, "unit": "m"}

    assert asked_for(samples) == finding_on(specification, {"lot": {"id": "L-1", "length": length}})["missing"]


def test_a_batch_of_unknown_length_says_what_to_tell() -> None:
    """The number of packages is no help where the standard counts metres."""
    specification = sampled_by({**PLAN, "counted_in": {"value": 220, "unit": "m"}})
    finding = finding_on(specification, {"lot": {"id": "L-1", "size": 12}})

    assert ("undecided", "lot-size-unknown") == (finding["outcome"], finding["reasons"][0]["code"])
    assert "Give `length` in `lot`." in finding["reasons"][0]["text"]


def sampled_by(plan: Document) -> Document:
    """A grade of rope whose breaking force is sampled by this plan."""
    return {
        "characteristics": [{"name": "breaking_force", "unit": "kN", "sample": plan}],
        "requirements": [{"id": "r", "kind": "each", "of": "breaking_force", "limits": {"lower": 20}}],
    }


def asked_for(samples: int) -> list[Document]:
    """What a finding lists as missing while nothing is tested."""
    return [{"characteristic": "breaking_force", "packages": samples, "readings": samples}]


@pytest.mark.parametrize(
    ("force", "remark", "outcome"),
    [
        (100, "", "pass"),
        (99.9, "", "fail"),
        (91, "broke_outside_marks", "pass"),
        (90, "broke_outside_marks", "pass"),
        (89.9, "broke_outside_marks", "fail"),
        (91, "", "fail"),
    ],
)
def test_a_break_outside_the_marks_passes_at_nine_tenths(force: float, remark: str, outcome: str) -> None:
    """A rope of a minimum of 100 kN that breaks at 91 kN outside the marks passes, and its true force is not known.

    Source: ISO 2307:2010, 9.7.2 (reference C5, SEEN).
    """
    finding = finding_on(rope("each"), broken_at(force, remark))

    assert outcome == finding["outcome"]


def test_the_force_of_a_break_outside_the_marks_is_not_scaled_up() -> None:
    """10/9 of 91 kN would be 101.1 kN; the finding shows what was read, and no mean is made of it.

    Source: ISO 2307:2010, 9.7.2 (reference C5, SEEN).
    """
    assert 91 == finding_on(rope("each"), broken_at(91, "broke_outside_marks"))["measured"]["value"]
    assert "undecided" == finding_on(rope("mean"), broken_at(91, "broke_outside_marks"))["outcome"]


def rope(kind: str) -> dict[str, object]:
    """A rope with a minimum breaking force of 100 kN."""
    remarks = {"passes_outside_marks_at": {"percent": 90}}
    return {
        "characteristics": [{"name": "breaking_force", "unit": "kN", "remarks": remarks}],
        "requirements": [{"id": "r", "kind": kind, "of": "breaking_force", "limits": {"lower": 100}}],
    }


def broken_at(force: float, remark: str) -> dict[str, object]:
    """One test piece of it."""
    series = {"characteristic": "breaking_force", "unit": "kN", "values": [force], "remarks": [remark]}
    return {"lot": {"id": "L-1"}, "series": [series]}
