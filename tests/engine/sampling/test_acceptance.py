"""What a sample comes to for a lot by attributes, where it is only a number of packages."""

import pytest

from service.engine.sampling import AttributesPlan, Fixed, LotSize, NoPlan, Sample, Stage
from service.engine.sampling.plans import Every, Percent, SquareRoot

SIZES = [
    (Fixed(packages=80), 1200, 80, False),
    (Fixed(packages=80), None, 80, False),
    (Fixed(packages=80), 80, 80, True),
    (Percent(percent=2.5), 81, 3, False),
    (Percent(percent=1, at_least=5), 3, 3, True),
    (SquareRoot(factor=0.4), 480, 9, False),
    (Every(), 480, 480, True),
]
"""The plan, the lot's size, the packages to draw, and whether they are all there are."""


@pytest.mark.parametrize(("sample", "lot_size", "packages", "takes_all"), SIZES)
def test_a_size_takes_its_accept_number_from_the_grade(
    sample: Sample, lot_size: int | None, packages: int, *, takes_all: bool
) -> None:
    """At most 2 of 80 balls is a plan: 80 to draw, 2 accept, 3 reject."""
    expected = AttributesPlan((Stage(packages, 2, 3),), letter=None, takes_all=takes_all)

    assert expected == sample.attributes_plan(LotSize(lot_size), at_most=2)


def test_a_lot_smaller_than_a_fixed_sample_has_no_plan() -> None:
    """2 of 80 says nothing of a lot of 50: 2 bad ones are more of it."""
    text = (
        "The plan takes 80 packages, and the lot has only 50. "
        "Use a plan for small lots in the grade, such as `every` or `bands`."
    )

    assert NoPlan("lot-smaller-than-plan", text) == Fixed(packages=80).attributes_plan(LotSize(50), at_most=2)


@pytest.mark.parametrize("sample", [Percent(percent=10), SquareRoot(factor=1), Every()])
def test_a_share_of_a_lot_of_unknown_size_says_what_to_tell(sample: Sample) -> None:
    """The one who reads it can mend it at once."""
    text = "How many packages to take depends on the size of the lot, which is not given. Give `size` in `lot`."

    assert NoPlan("lot-size-unknown", text) == sample.attributes_plan(LotSize(None), at_most=0)


def test_a_size_without_an_accept_number_is_no_plan() -> None:
    """Compilation refuses such a grade; were it not to, nobody is given a number that looks right."""
    with pytest.raises(ValueError, match="accept number from the grade"):
        Fixed(packages=80).attributes_plan(LotSize(1200))
    with pytest.raises(ValueError, match="no k of its own"):
        Fixed(packages=80).variables_plan(LotSize(1200))
