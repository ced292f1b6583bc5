"""What a verdict says to switching comes back as it was kept."""

from service.engine.switching import Subject, encoded_results
from service.engine.switching.following import Inspected
from service.engine.switching.stored_results import decoded_results

KEPT = (
    b'[{"sort":"class","name":"major","inspection":"tightened","accepted":false,"in_gap":false,"resubmitted":true},'
    b'{"sort":"requirement","name":"strength","inspection":"reduced","accepted":true,"in_gap":true,"resubmitted":false}]'
)
RESULTS = {
    Subject("class", "major"): Inspected(lot="L", inspection="tightened", accepted=False, resubmitted=True),
    Subject("requirement", "strength"): Inspected(lot="L", inspection="reduced", accepted=True, in_gap=True),
}


def test_results_are_kept_member_by_member() -> None:
    """Every member stands there, so that a later default changes nothing that was kept."""
    assert KEPT == encoded_results(RESULTS)


def test_results_that_were_kept_are_read_again() -> None:
    """A line's history is followed from what is kept, years later."""
    assert RESULTS == decoded_results("L", KEPT)
    assert {} == decoded_results("L", encoded_results({}))
