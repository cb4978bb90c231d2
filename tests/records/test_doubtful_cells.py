from math import comb

import pytest
from scipy.stats import binomtest

from assistant.domain.job_events import (
    AnswerRevised,
    CheckAnswered,
    Closed,
    FaultNamed,
    ProofFailed,
    ProofPassed,
    RepairDone,
)
from assistant.domain.job_terms import Standing
from assistant.records.doubtful_cells import FEWEST_JOBS, binomial_p, doubtful_cells
from assistant.records.replay import replayed
from tests.records.fault_models import FAULT, job, lamp, shares
from tests.records.story import OPENING, events_of


def jobs_with(dark, lit, cause="relay"):
    outcomes = ["dark"] * dark + ["lit"] * lit
    return [job(n, lamp(outcome), found={cause: 1.0}) for n, outcome in enumerate(outcomes, start=1)]


def test_the_tail_is_the_sum_of_all_counts_at_most_as_likely():
    tail = sum(comb(5, k) * 0.9**k * 0.1 ** (5 - k) for k in (0, 1))
    assert binomial_p(1, 5, 0.9) == pytest.approx(tail)
    assert binomial_p(2, 4, 0.5) == pytest.approx(1.0)


@pytest.mark.parametrize("chance", [0.005, 0.1, 0.4, 0.5, 0.85, 0.98])
def test_the_tail_is_scipys_exact_test(chance):
    for tried in (1, 5, 12, 40):
        for seen in range(tried + 1):
            assert binomial_p(seen, tried, chance) == pytest.approx(binomtest(seen, tried, chance).pvalue, abs=1e-12)


def test_a_cell_that_the_jobs_speak_against_is_reported_with_its_figures():
    cells = doubtful_cells(FAULT, jobs_with(dark=1, lit=7))
    assert [(c.check, c.outcome, c.cause, c.seen, c.jobs) for c in cells] == [
        ("lamp", "dark", "relay", 1, 8),
        ("lamp", "lit", "relay", 7, 8),
    ]
    assert cells[0].stated == pytest.approx(0.9) and cells[1].stated == pytest.approx(0.1)
    assert cells[0].p == pytest.approx(sum(comb(8, k) * 0.9**k * 0.1 ** (8 - k) for k in (0, 1)))


def test_cells_that_the_jobs_bear_out_are_not_reported():
    assert doubtful_cells(FAULT, jobs_with(dark=18, lit=2)) == ()
    assert doubtful_cells(FAULT, jobs_with(dark=10, lit=10, cause="cable")) == ()


def test_too_few_jobs_judge_nothing():
    assert doubtful_cells(FAULT, jobs_with(dark=0, lit=FEWEST_JOBS - 1)) == ()
    assert doubtful_cells(FAULT, jobs_with(dark=0, lit=FEWEST_JOBS)) != ()


def test_several_judged_cells_raise_the_bar():
    four_of_six = jobs_with(dark=3, lit=3)
    p = binomial_p(3, 6, 0.9)
    assert 0.05 / 4 < p < 0.05 / 2
    assert doubtful_cells(FAULT, four_of_six) != ()
    assert doubtful_cells(FAULT, [*four_of_six, *jobs_with(dark=3, lit=3, cause="cable")]) == ()


def test_only_answers_of_the_faulty_machine_and_jobs_with_one_cause_count():
    shared = [job(n, lamp("lit"), found={"relay": 0.5, "cable": 0.5}) for n in range(9)]
    unproved = [job(n, lamp("lit"), found={"relay": 1.0}, proved=False) for n in range(9)]
    after_cure = [job(n, RepairDone(repair="cure"), lamp("lit"), found={"relay": 1.0}) for n in range(9)]
    assert doubtful_cells(FAULT, shared) == doubtful_cells(FAULT, unproved) == ()
    # `job` adds a repair of its own at the end: an answer before that one is of a machine that was still faulty.
    assert doubtful_cells(FAULT, after_cure)[0].jobs == 9
    late = [job(n, CheckAnswered(check="other", outcome="x"), found={"relay": 1.0}) for n in range(9)]
    assert doubtful_cells(FAULT, late) == ()


def test_an_answer_after_the_curing_repair_says_nothing():
    details = [OPENING, FaultNamed(fault=FAULT.full_id), RepairDone(repair="r"), lamp("lit"), ProofPassed()]
    jobs = [replayed(events_of([*details, Closed(found=shares(relay=1.0))])) for _ in range(9)]
    assert doubtful_cells(FAULT, jobs) == ()


def test_a_revised_answer_counts_as_revised_and_one_taken_back_not_at_all():
    revised = AnswerRevised(check="lamp", to=Standing.ANSWERED, outcome="lit")
    jobs = [job(n, lamp("dark"), revised, ProofFailed(), found={"relay": 1.0}) for n in range(9)]
    assert (doubtful_cells(FAULT, jobs)[0].seen, doubtful_cells(FAULT, jobs)[0].outcome) == (0, "dark")
    back = AnswerRevised(check="lamp", to=Standing.OPEN)
    assert doubtful_cells(FAULT, [job(n, lamp("lit"), back, found={"relay": 1.0}) for n in range(9)]) == ()
