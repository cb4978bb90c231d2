import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.domain.fault_log import (
    Answered,
    CantCheck,
    CantRepair,
    DontKnow,
    ProofFailed,
    ProofPassed,
    ReadingNear,
    Repaired,
    Revised,
)
from assistant.errors import IsolationError
from assistant.isolation import belief
from assistant.isolation.progress import cure_chance, progress
from tests.isolation.small_models import public_models, small

P1 = public_models()["P1"].model
SWITCH = P1.causes


steady = settings(deadline=None, max_examples=50)


@st.composite
def models(draw):
    """Two to five named causes, one to four checks of two or three outcomes, one repair a cause."""
    many = draw(st.integers(2, 5))
    weights = [draw(st.floats(0.05, 1.0)) for _ in range(many)]
    prior = [0.95 * w / math.fsum(weights) for w in weights]
    checks = []
    for index in range(draw(st.integers(1, 4))):
        outcomes = draw(st.integers(2, 3))
        columns = [[draw(st.floats(0.05, 1.0)) for _ in range(outcomes)] for _ in range(many)]
        rows = [[column[o] / math.fsum(column) for column in columns] for o in range(outcomes)]
        checks.append((f"k{index}", 1 + index, rows))
    repairs = [
        (f"r{i}", 3 + i, [draw(st.sampled_from((0.9, 1.0))) if j == i else 0.0 for j in range(many)])
        for i in range(many)
    ]
    return small(prior, checks, repairs)


@st.composite
def answered(draw):
    model = draw(models())
    log = [
        Answered(check=check.id, outcome=draw(st.sampled_from(check.outcomes)))
        for check in model.checks
        if draw(st.booleans())
    ]
    return model, tuple(log)


@steady
@given(answered(), st.randoms(use_true_random=False))
def test_the_order_of_answers_does_not_matter(case, random):
    model, log = case
    mixed = list(log)
    random.shuffle(mixed)
    assert belief(model, mixed) == pytest.approx(belief(model, log), abs=1e-12)


@steady
@given(answered())
def test_the_belief_sums_to_one_and_so_do_the_outcomes_of_every_check(case):
    model, log = case
    now = belief(model, log)
    assert math.fsum(now.values()) == pytest.approx(1.0, abs=1e-12)
    for check in model.checks:
        chances = [sum(p * cell for p, cell in zip(now.values(), row, strict=True)) for row in check.likelihood]
        assert math.fsum(chances) == pytest.approx(1.0, abs=1e-9)


@steady
@given(answered())
def test_an_answer_taken_back_was_never_said(case):
    model, log = case
    check = model.checks[0]
    without = tuple(event for event in log if event.check != check.id)
    said = (*without, Answered(check=check.id, outcome=check.outcomes[0]), Revised(check=check.id, to=None))
    assert progress(model, said) == progress(model, without)


@steady
@given(answered())
def test_a_revised_answer_counts_as_if_it_had_been_said_at_once(case):
    model, log = case
    check = model.checks[0]
    first, other = (Answered(check=check.id, outcome=check.outcomes[o]) for o in (0, 1))
    rest = tuple(event for event in log if event.check != check.id)
    assert progress(model, (first, *rest, Revised(check=check.id, to=other))) == progress(model, (other, *rest))


@steady
@given(answered())
def test_not_knowing_and_not_being_able_leave_the_belief(case):
    model, log = case
    before = belief(model, log)
    rest = [c.id for c in model.checks if all(event.check != c.id for event in log)]
    for said in (DontKnow, CantCheck):
        more = (*log, *(said(check=name) for name in rest))
        assert belief(model, more) == before
        assert all(progress(model, more).closed)


@steady
@given(models())
def test_a_perfect_repair_that_failed_leaves_nothing_of_its_cause(model):
    for repair in model.repairs:
        if max(repair.cures) == 1.0:
            after = belief(model, (Repaired(repair=repair.id), ProofFailed()))
            assert after[model.causes[repair.cures.index(1.0)]] == 0.0


@steady
@given(answered(), st.floats(0.0, 1.0))
def test_a_reading_near_a_limit_lies_between_its_two_answers(case, share):
    model, _ = case
    check = model.checks[0]
    low, high = (belief(model, (Answered(check=check.id, outcome=check.outcomes[o]),)) for o in (0, 1))
    mixed = belief(
        model, (ReadingNear(check=check.id, shares=((check.outcomes[0], share), (check.outcomes[1], 1.0 - share))),)
    )
    for cause in model.causes:
        assert min(low[cause], high[cause]) - 1e-9 <= mixed[cause] <= max(low[cause], high[cause]) + 1e-9


def test_the_same_check_answered_again_replaces_its_answer():
    again = (Answered(check="input_lamp", outcome="on"), Answered(check="input_lamp", outcome="off"))
    assert belief(P1, again) == belief(P1, again[1:])


def test_a_failed_imperfect_repair_leaves_a_share_of_its_cause():
    after = belief(P1, (Repaired(repair="retighten"), ProofFailed()))
    assert after["terminal"] == pytest.approx(0.1 * 0.05 / (1 - 0.1 * 0.95))


def test_a_surprising_failed_proof_reopens_what_spoke_for_the_cause_and_keeps_what_was_normal():
    # input_lamp's normal outcome is "on", volts_at_switch's "present": the relay is then 91 % likely
    log = (Answered(check="input_lamp", outcome="on"), Answered(check="volts_at_switch", outcome="present"))
    done = (*log, Repaired(repair="swap_relay"))
    likely = cure_chance(P1, progress(P1, done))
    assert likely == pytest.approx(0.2 * 0.98 * 0.95 / sum_evidence(), abs=1e-9)
    assert likely >= 0.8
    after = progress(P1, (*done, ProofFailed()))
    assert after.surprised and after.surprises == 1
    assert [answer is None for answer in after.answers] == [False, False, True]
    assert belief(P1, (*done, ProofFailed()))["relay"] == 0.0


def sum_evidence():
    rows = {
        "guard_switch": 0.02 * 0.95,
        "cable": 0.02 * 0.05,
        "relay": 0.98 * 0.95,
        "terminal": 0.02 * 0.4,
        "something_else": 0.25,
    }
    return sum(p * rows[cause] for p, cause in zip(P1.prior, P1.causes, strict=True))


def test_an_abnormal_answer_is_dropped_by_a_surprise_and_its_check_opened():
    model = small((0.9, 0.05), [("lamp", 1, ((0.98, 0.1), (0.02, 0.9)))], [("a", 3, (1, 0)), ("b", 4, (0, 1))])
    log = (Answered(check="lamp", outcome="o0"), Repaired(repair="a"), ProofFailed())
    after = progress(model, log)
    assert after.surprised and after.answers == (None,) and after.closed == (False,)
    assert belief(model, log) == pytest.approx({"c1": 0.0, "c2": 0.5, "something_else": 0.5})


def test_an_expected_failure_keeps_every_answer():
    log = (Answered(check="input_lamp", outcome="off"), Repaired(repair="replace_switch"), ProofFailed())
    after = progress(P1, log)
    assert not after.surprised and after.answers[0] is not None
    assert belief(P1, log)["guard_switch"] == 0.0


def test_two_repairs_before_one_failed_proof_both_failed():
    log = (Repaired(repair="replace_switch"), Repaired(repair="new_cable"), ProofFailed())
    assert progress(P1, log).failed == {0, 1}


def test_a_repair_that_cannot_be_done_is_not_spare_any_more():
    assert progress(P1, (CantRepair(repair="new_cable"),)).spare == (True, False, True, True)


def test_passes_of_an_imperfect_proof_raise_the_cured_causes():
    from dataclasses import replace

    model = replace(P1, passes_anyway=0.5)
    log = (Repaired(repair="replace_switch"), ProofPassed(), ProofPassed())
    assert belief(model, log)["guard_switch"] == pytest.approx(0.4 / (0.4 + 0.6 * 0.5**2))


@pytest.mark.parametrize(
    "log",
    [
        (Answered(check="no_such", outcome="on"),),
        (Answered(check="input_lamp", outcome="blue"),),
        (Repaired(repair="no_such"),),
        (Revised(check="input_lamp", to=None),),
        (ReadingNear(check="input_lamp", shares=(("on", 0.0),)),),
    ],
)
def test_what_the_model_has_not_is_refused(log):
    with pytest.raises(IsolationError):
        belief(P1, log)


def test_a_column_that_does_not_sum_to_one_is_refused_when_the_model_is_made():
    with pytest.raises(IsolationError, match="sum to 1.010"):
        small((0.5, 0.4), [("lamp", 1, ((0.98, 0.1), (0.03, 0.9)))], [])


@steady
@given(models(), st.floats(0.1, 50.0))
def test_the_scale_of_the_weights_leaves_everything(model, scale):
    from dataclasses import replace

    raw = [p * scale for p in model.prior]
    total = math.fsum(raw)
    scaled = replace(model, prior=tuple(p / total for p in raw))
    log = (Answered(check="k0", outcome="o0"),)
    assert belief(scaled, log) == pytest.approx(belief(model, log), abs=1e-12)
