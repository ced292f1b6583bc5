"""The number of specimens that ISO 2307 takes from a batch of rope, by the plan `square_root`."""

import pytest

from tests.support.engine_answers import finding_on


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
    specification = {
        "characteristics": [{"name": "breaking_force", "unit": "kN", "sample": {"plan": "square_root", "factor": 0.4}}],
        "requirements": [{"id": "r", "kind": "each", "of": "breaking_force", "limits": {"lower": 20}}],
    }
    finding = finding_on(specification, {"lot": {"id": "L-1", "size": coils}})

    assert "undecided" == finding["outcome"]
    assert [{"characteristic": "breaking_force", "packages": samples, "readings": samples}] == finding["missing"]
