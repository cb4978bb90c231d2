"""The populations of the alarm, what is counted in them, and sessions in which an alarm is heeded."""

from dataclasses import replace

import numpy as np
import pytest

from assistant.domain.fault_log import Answered, Repaired
from assistant.domain.terms import Energy
from assistant.isolation import Isolator, contradiction
from assistant.isolation.policy import Place
from assistant.isolation.progress import progress
from eval.isolation.alarms import (
    EIGHT,
    Alarms,
    alarm_table,
    another,
    answered_all,
    answered_eight,
    guided,
    hear,
    in_turn,
    most_telling,
    one_replaced,
    silence,
    together,
    wilson,
)
from eval.isolation.generator import Size, generate
from eval.isolation.retakes import Misread, Retaking, misread, retake_cost
from eval.isolation.simulation import Simulation, draw
from eval.isolation.tree import expected_minutes, policy_of
from tests.isolation.small_models import public_models, small

P1 = public_models()["P1"]
ROW = ((0.98, 0.02), (0.02, 0.98))
CLEAR = small((0.5, 0.5), [(f"k{i}", 1, ROW) for i in range(5)], [("a", 5, (1, 0)), ("b", 5, (0, 1))])


def test_a_replaced_answer_is_one_that_was_given_and_another_outcome():
    faults = draw(P1.model, 300, 2)
    first = Simulation(P1.model, policy_of(Isolator(P1.model))).run(faults, P1.energy).first
    wrong, slipped = one_replaced(P1.model, faults, first, 1)
    changed = wrong.answer != faults.answer
    assert (changed.sum(axis=1) == (slipped >= 0)).all() and (slipped >= 0).any()
    some = slipped >= 0
    assert (changed.argmax(axis=1)[some] == slipped[some]).all() and len(set(slipped[some].tolist())) > 1
    for place, jobs in first.items():
        assert all(place.at.answers[slipped[job]] is not None for job in jobs.tolist() if slipped[job] >= 0)
    assert {another(P1.model, np.random.default_rng(1), 0, said) for said in (0, 1)} == {0, 1}


def test_three_certain_signs_against_one_wrong_answer_ring_and_name_it():
    found = answered_all(CLEAR, Energy.RUNNING, 400)
    assert len(found.plain.slip) == found.slips.sum() == 400
    # four of five agree: the fifth is wrong, or two were rare at once
    assert found.caught.mean() > 0.85 and found.right(1) / found.caught.sum() > 0.9
    assert found.plain.alarm.mean() < 0.2 and found.area > 0.9


def test_what_is_heard_is_what_the_product_says():
    log = (Answered(check="input_lamp", outcome="on"), Answered(check="volts_at_switch", outcome="none"))
    said = contradiction(P1.model, log)
    found = silence(2)
    hear(P1.model, found, Place(at=progress(P1.model, log), energy=P1.energy), np.array([1]))
    assert found.slip.tolist() == [0.0, pytest.approx(1 - said.all_as_stated)]
    assert found.strange[1] == pytest.approx(said.something_else)
    assert found.suspects[1].tolist() == [P1.model.check_index(s.check) for s in said.suspects[:2]]
    # nothing is said between a repair and its proof
    hear(
        P1.model,
        found,
        Place(at=progress(P1.model, (*log, Repaired(repair="new_cable"))), energy=P1.energy),
        np.array([0]),
    )
    assert found.slip[0] == 0.0


def test_the_suspects_are_those_of_the_first_ring():
    first = tuple(Answered(check=f"k{i}", outcome="o0" if i != 3 else "o1") for i in range(4))
    found = silence(1)
    hear(CLEAR, found, Place(at=progress(CLEAR, first), energy=Energy.RUNNING), np.array([0]))
    assert found.alarm[0] and found.suspects[0, 0] == 3
    later = (*first, Answered(check="k4", outcome="o1"), Answered(check="k0", outcome="o1"))
    hear(CLEAR, found, Place(at=progress(CLEAR, later), energy=Energy.RUNNING), np.array([0]))
    assert found.suspects[0, 0] == 3


def test_guided_sessions_are_counted_within_their_sessions():
    simulation = Simulation(P1.model, policy_of(Isolator(P1.model)), restart=True)
    found = guided(P1.model, simulation, P1.energy, 500)
    assert len(found.plain.slip) == len(found.strangers.slip) == 500 and 0 < found.slips.sum() <= 500
    assert found.right(2) >= found.right(1) and found.caught.sum() <= found.slips.sum()
    both = together([found, found])
    assert both.slips.sum() == 2 * found.slips.sum() and both.area == pytest.approx(found.area)
    assert len(list(alarm_table("x", both))) == 13
    nothing = Alarms(plain=silence(0), misled=silence(0), slipped=np.zeros(0, dtype=np.intp), strangers=silence(0))
    assert len(list(alarm_table("nothing", nothing))) == 13


def test_eight_answers_are_eight_and_those_that_tell_most():
    model, energy = generate(500_003, Size(causes=15, checks=25, repairs=8, family="mixed"))
    places = []
    Simulation(model, most_telling(model, EIGHT)).run(draw(model, 50, 1), energy, lambda place, _: places.append(place))
    answers = [sum(answer is not None for answer in place.at.answers) for place in places]
    assert max(answers) == EIGHT and min(answers) == 0
    found = answered_eight(model, energy, 200, 1)
    assert 0.7 < found.area < 1.0


def test_all_checks_in_turn_are_all_that_are_offered():
    first, *rest = CLEAR.checks
    model = replace(CLEAR, checks=(replace(first, offered=False), *rest))
    ends = []
    Simulation(model, in_turn(model)).run(draw(model, 20, 1), Energy.RUNNING, lambda place, _: ends.append(place))
    last = max(ends, key=lambda place: sum(answer is not None for answer in place.at.answers))
    assert [answer is not None for answer in last.at.answers] == [False, True, True, True, True]


def test_the_area_and_the_catch_at_a_rate_are_those_of_hand_made_chances():
    plain, misled = silence(4), silence(4)
    plain.slip[:] = (0.1, 0.2, 0.3, 0.4)
    misled.slip[:] = (0.25, 0.4, 0.9, 0.0)
    found = Alarms(plain=plain, misled=misled, slipped=np.array([0, 1, 2, -1]), strangers=silence(0))
    # 0.25 is above two of four, 0.4 above three and ties one, 0.9 above all
    assert found.area == pytest.approx((2 + 3.5 + 4) / 12)
    least, caught = found.caught_at(0.25)
    assert (least, caught) == (0.4, pytest.approx(1 / 3))
    assert found.caught.tolist() == [False, True, True, False]


def test_the_score_interval_of_a_textbook_share():
    # 10 of 100: 0.0552 to 0.1744, recomputed from the formula by hand
    low, high = wilson(10, 100)
    assert (round(low, 4), round(high, 4)) == (0.0552, 0.1744)
    assert wilson(0, 10)[0] == pytest.approx(0.0, abs=1e-12)


# --- an alarm that is heeded ---------------------------------------------------------------------------------------------------


def test_a_misread_answer_is_another_outcome_as_often_as_supposed():
    truth = draw(P1.model, 20_000, 1)
    jobs = misread(P1.model, truth, 1, 0.03)
    assert jobs.wrong.mean() == pytest.approx(0.03, abs=0.003)
    assert not misread(P1.model, truth, 1, 0.0).wrong.any() and misread(P1.model, truth, 1, 1.0).wrong.all()


def test_without_slips_and_without_alarms_a_session_costs_what_it_costs():
    truth = draw(P1.model, 300, 3)
    simulation = Simulation(P1.model, policy_of(Isolator(P1.model)), restart=True)
    unheeded = Retaking(P1.model, simulation, None).run(Misread(truth=truth, said=truth.answer), P1.energy)
    assert unheeded.minutes.tolist() == simulation.run(truth, P1.energy).minutes.tolist()
    assert not unheeded.alarms.any()


def test_the_suspect_is_looked_at_again_once_and_its_minutes_are_paid():
    # five clear signs in turn, the fourth misread: the ring is heeded, the second look is right and nothing rings any more
    truth = draw(CLEAR, 50, 1)
    truth = replace(truth, cause=np.zeros(50, dtype=np.intp), answer=np.zeros((50, 5), dtype=np.intp))
    said = truth.answer.copy()
    said[:, 3] = 1
    simulation = Simulation(CLEAR, in_turn(CLEAR))
    found = Retaking(CLEAR, simulation).run(Misread(truth=truth, said=said), Energy.RUNNING)
    plain = Retaking(CLEAR, simulation, None).run(Misread(truth=truth, said=said), Energy.RUNNING)
    assert (found.alarms == 1).all() and (found.minutes - plain.minutes == 1.0).all()


def test_a_rare_truth_is_looked_at_again_once_and_then_believed():
    truth = draw(CLEAR, 20, 1)
    answer = np.zeros((20, 5), dtype=np.intp)
    answer[:, 3] = 1
    truth = replace(truth, answer=answer)
    found = Retaking(CLEAR, Simulation(CLEAR, in_turn(CLEAR))).run(Misread(truth=truth, said=answer), Energy.RUNNING)
    assert (found.alarms == 1).all()


def test_looking_again_saves_where_answers_are_wrong():
    simulation = Simulation(CLEAR, policy_of(Isolator(CLEAR)), restart=True)
    found = retake_cost(CLEAR, simulation, Energy.RUNNING, 500)
    assert 0.05 < found.wrong.mean() < 0.25 and len(found.heeded.minutes) == 500


def test_the_exact_minutes_with_the_restart_are_found_though_a_place_is_met_at_several_depths():
    model, energy = generate(12, Size(causes=6, checks=4, repairs=4, family="mixed"))
    model = replace(model, hand_over=5000.0)
    found = expected_minutes(model, policy_of(Isolator(model)), energy, restart=True)
    assert 0.0 < found < 5000.0
