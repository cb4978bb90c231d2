import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.domain.job_events import Amended, Closed, FaultNamed, NoteTaken, ProofPassed, RepairDone
from assistant.records.learning import SOMETHING_ELSE, authored_weights, learned_weights
from assistant.records.replay import replayed
from tests.records.fault_models import FAULT, job, shares
from tests.records.story import OPENING, events_of


def learnt(*jobs):
    return {cause.cause: cause for cause in learned_weights(FAULT, jobs).causes}


def test_without_jobs_the_weights_are_the_authors():
    assert dict(authored_weights(FAULT)) == pytest.approx(
        {"relay": 0.8 * 3 / 5, "cable": 0.8 * 1 / 5, "fuse": 0.8 * 1 / 5, SOMETHING_ELSE: 0.2}
    )
    assert all(cause.learned == pytest.approx(cause.authored) and cause.jobs == 0 for cause in learnt().values())


def test_a_found_cause_counts_whole_and_a_block_of_repairs_in_shares():
    found = learnt(job(1, found={"cable": 1.0}), job(2, found={"cable": 0.25, "fuse": 0.75}))
    assert found["cable"].jobs == 1 + 0.25 and found["fuse"].jobs == 0.75
    assert found["cable"].learned == pytest.approx((15 * 0.16 + 1.25) / (15 + 2))
    assert found["fuse"].learned == pytest.approx((15 * 0.16 + 0.75) / (15 + 2))
    assert found["relay"].learned == pytest.approx(15 * 0.48 / (15 + 2))
    assert found[SOMETHING_ELSE].learned == pytest.approx(15 * 0.2 / (15 + 2))
    assert sum(cause.learned for cause in found.values()) == pytest.approx(1)


def test_only_proved_jobs_of_that_fault_that_are_closed_count():
    unproved = job(1, found={"cable": 1.0}, proved=False)
    nothing_found = job(2)
    other_fault = job(3, fault="drumlin/fault/other", found={"cable": 1.0})
    still_open = replayed(events_of([OPENING, FaultNamed(fault=FAULT.full_id), RepairDone(repair="r"), ProofPassed()]))
    weights = learned_weights(FAULT, [unproved, nothing_found, other_fault, still_open])
    assert weights.counted == () and weights.left_out == ("2026-11-25-1", "2026-11-25-2")
    assert sum(cause.jobs for cause in weights.causes) == 0


def test_a_hand_over_counts_for_what_was_found_there_and_else_for_something_else():
    found = learnt(
        job(1, found={"fuse": 1.0}, proved=False, handed_over_to="maker"), job(2, proved=False, handed_over_to="maker")
    )
    assert found["fuse"].jobs == 1 and found[SOMETHING_ELSE].jobs == 1


def test_amending_a_job_takes_back_what_was_learnt_from_it():
    closed = [
        OPENING,
        FaultNamed(fault=FAULT.full_id),
        RepairDone(repair="r"),
        ProofPassed(),
        Closed(found=shares(relay=1.0)),
    ]
    corrected = replayed(events_of([*closed, Amended(reason="it was the fuse", found=shares(fuse=1.0))]))
    withdrawn = replayed(events_of([*closed, Amended(reason="not known after all", found=())]))
    worded = replayed(events_of([*closed, Amended(reason="spelling")]))
    assert learnt(replayed(events_of(closed)))["relay"].jobs == learnt(worded)["relay"].jobs == 1
    assert (learnt(corrected)["relay"].jobs, learnt(corrected)["fuse"].jobs) == (0, 1)
    assert learnt(withdrawn) == learnt()


def test_a_cause_that_the_fault_no_longer_has_is_told_and_not_counted():
    weights = learned_weights(FAULT, [job(1, found={"gone": 0.5, "relay": 0.5})])
    assert weights.unknown == ("gone",) and weights.left_out == ("2026-11-25-1",)
    assert sum(cause.jobs for cause in weights.causes) == 0


def test_thirty_jobs_outweigh_the_author_two_to_one():
    found = learnt(*(job(n, found={"fuse": 1.0}) for n in range(1, 31)))
    assert found["fuse"].learned == pytest.approx((15 * 0.16 + 30) / 45)


@given(st.lists(st.sampled_from(["relay", "cable", "fuse", SOMETHING_ELSE]), max_size=12), st.randoms())
def test_the_order_of_the_jobs_does_not_matter_and_the_weights_sum_to_one(causes, order):
    jobs = [job(n, NoteTaken(text="x"), found={cause: 1.0}) for n, cause in enumerate(causes, start=1)]
    before = learned_weights(FAULT, jobs).causes
    order.shuffle(jobs)
    assert learned_weights(FAULT, jobs).causes == before
    assert sum(cause.learned for cause in before) == pytest.approx(1)
