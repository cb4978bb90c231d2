import xml.etree.ElementTree as ElementTree
from dataclasses import replace

import numpy as np
import pytest

from assistant.domain.terms import Energy
from assistant.isolation import Isolator
from assistant.isolation.policy import Place
from assistant.isolation.progress import start
from eval.isolation.alarms import Alarms, alarm_table, alarms, another, answered_all, one_reversed, wilson
from eval.isolation.authored import START, authored_bars, authored_table, measure_authored, two_fault_table, wrong_table
from eval.isolation.bars import bootstrap
from eval.isolation.calibration import Calibration
from eval.isolation.crisp_optimum import CrispOptimum, made_crisp
from eval.isolation.generator import FAMILIES, Size, generate
from eval.isolation.optimum import Optimum
from eval.isolation.orders import known_cause_minutes
from eval.isolation.reliability import points, reliability_svg, reliability_table
from eval.isolation.simulation import Faults, Simulation, draw
from eval.isolation.tree import policy_of
from eval.isolation.two_faults import TwoFaults, draw_two, two_fault_cost
from tests.isolation.small_models import binary, public_models, small, unit

P1 = public_models()["P1"]


@pytest.mark.parametrize("seed", range(8))
def test_the_optimum_over_surviving_sets_equals_the_dense_table(seed):
    model, energy = generate(seed, Size(causes=7, checks=6, repairs=4, family=FAMILIES[seed % 4], crisp=True))
    model = made_crisp(model, seed)
    assert CrispOptimum(model).minutes(energy) == pytest.approx(Optimum(model).minutes(energy), abs=1e-8)


def test_a_likelihood_between_never_and_always_is_refused():
    with pytest.raises(ValueError, match="not certain"):
        CrispOptimum(P1.model)


def test_made_crisp_leaves_the_named_causes_and_decides_something_else():
    model, _ = generate(3, Size(causes=8, checks=9, repairs=4, family="flat", crisp=True))
    made = made_crisp(model, 3)
    for old, new in zip(model.checks, made.checks, strict=True):
        assert set(np.array(new.likelihood).ravel()) <= {0.0, 1.0}
        if len(old.outcomes) == 2:
            assert np.array_equal(np.array(old.likelihood)[:, :-1], np.array(new.likelihood)[:, :-1])


def test_the_bootstrap_of_a_ratio_of_sums_holds_the_ratio():
    rng = np.random.default_rng(1)
    below = rng.uniform(1, 3, 200)
    above = 0.5 * below + rng.normal(0, 0.1, 200)
    low, high = bootstrap(above, below)
    assert low < above.sum() / below.sum() < high and high - low < 0.05
    assert bootstrap(2 * below, below) == pytest.approx((2.0, 2.0))


def one(cause, answer, cures):
    return Faults(cause=np.array([cause]), answer=np.array([answer]), cures=np.array([cures]))


def test_two_faults_show_what_either_shows_until_its_repair_is_done():
    first, second = one(0, [0, 1, 1], [True, False]), one(1, [1, 0, 1], [False, True])
    pair = TwoFaults(first=first, second=second, normal=(1, 1, 1))
    jobs = np.array([0])
    shown = {done: [int(pair.answers(jobs, check, done)[0]) for check in range(3)] for done in ((), (0,), (1,))}
    assert shown == {(): [0, 0, 1], (0,): [1, 0, 1], (1,): [0, 1, 1]}
    assert [bool(pair.cured(jobs, done)[0]) for done in ((), (0,), (1,), (0, 1))] == [False, False, False, True]


def test_pairs_are_of_different_named_causes():
    pairs = draw_two(P1.model, 3000, 1)
    other = len(P1.model.causes) - 1
    assert (pairs.first.cause != pairs.second.cause).all()
    assert not (pairs.first.cause == other).any() and not (pairs.second.cause == other).any()
    # the guard switch is first in .4 of .95
    assert (pairs.first.cause == 0).mean() == pytest.approx(0.4 / 0.95, abs=0.03)


def test_two_perfect_repairs_and_no_check_take_both_repairs_and_two_proofs():
    model = small((0.6, 0.4), (), (("one", 5, unit(0, 2)), ("two", 9, unit(1, 2))), proof_minutes=3.0)
    cost = two_fault_cost(model, 50, Energy.RUNNING)
    # one proof for both where a block is planned, two where each is proved: never less than both repairs and a proof
    assert set(cost.keeping.tolist()) <= {17.0, 20.0} and not cost.keeping_handed.any()


def test_a_job_with_a_second_fault_goes_on_after_the_first_is_mended():
    policy = policy_of(Isolator(P1.model))
    pairs = draw_two(P1.model, 400, 3)
    jobs = Simulation(P1.model, policy, restart=True).run(pairs, P1.energy)
    single = Simulation(P1.model, policy, restart=True).run(pairs.first, P1.energy)
    assert jobs.minutes.mean() > single.minutes.mean() + 10


def test_a_watched_run_meets_every_job_at_its_beginning():
    seen = {}
    faults = draw(P1.model, 100, 1)
    watch = lambda place, jobs: seen.setdefault(place, jobs)  # noqa: E731
    Simulation(P1.model, policy_of(Isolator(P1.model))).run(faults, P1.energy, watch)
    assert len(seen[Place(at=start(P1.model), energy=P1.energy)]) == 100


def test_a_reversed_answer_is_one_that_was_given_and_another_outcome():
    faults = draw(P1.model, 300, 2)
    first = Simulation(P1.model, policy_of(Isolator(P1.model))).run(faults, P1.energy).first
    wrong, slipped = one_reversed(P1.model, faults, first, 1)
    changed = wrong.answer != faults.answer
    assert (changed.sum(axis=1) == (slipped >= 0)).all() and (slipped >= 0).any()
    some = slipped >= 0
    assert (changed.argmax(axis=1)[some] == slipped[some]).all() and len(set(slipped[some].tolist())) > 1
    for place, jobs in first.items():
        assert all(place.at.answers[slipped[job]] is not None for job in jobs.tolist() if slipped[job] >= 0)
    assert {another(P1.model, np.random.default_rng(1), 0, said) for said in (0, 1)} == {0, 1}


def test_three_certain_signs_against_one_wrong_answer_ring_and_name_it():
    row = ((0.98, 0.02), (0.02, 0.98))
    model = small((0.5, 0.5), [(f"k{i}", 1, row) for i in range(5)], [("a", 5, (1, 0)), ("b", 5, (0, 1))])
    found = answered_all(model, 400)
    assert found.sessions == found.slips == 400
    # four of five agree: the fifth is wrong, or two were rare at once
    assert found.caught / found.slips > 0.85 and found.first_right / found.caught > 0.9
    assert found.false_alarms / found.sessions < 0.2


def test_the_alarms_of_guided_sessions_are_counted_within_their_sessions():
    simulation = Simulation(P1.model, policy_of(Isolator(P1.model)), restart=True)
    found = alarms(P1.model, simulation, P1.energy, 500)
    assert found.sessions == found.strangers == 500 and 0 < found.slips <= 500
    assert found.two_right >= found.first_right and found.caught <= found.slips
    both = found + found
    assert both.slips == 2 * found.slips and len(list(alarm_table("x", both))) == 7
    assert len(list(alarm_table("nothing", Alarms()))) == 7


def test_the_score_interval_of_a_textbook_share():
    # 10 of 100: 0.0552 to 0.1744, recomputed from the formula by hand
    low, high = wilson(10, 100)
    assert (round(low, 4), round(high, 4)) == (0.0552, 0.1744)
    assert wilson(0, 10)[0] == pytest.approx(0.0, abs=1e-12)


def test_the_measures_of_one_authored_model_hang_together():
    found = measure_authored(P1.model, 300)
    assert set(found.minutes) == {"printed", "fixed", "by energy", "likeliest", "bits/min", "ours"}
    assert all(len(minutes) == 300 for minutes in (*found.minutes.values(), found.known))
    assert set(found.known.tolist()) <= set(known_cause_minutes(P1.model, START).tolist())
    assert found.known.mean() <= found.minutes["ours"].mean() <= found.fixed.mean()
    assert not found.hands_over_at_once
    for believing, knowing in found.wrong.values():
        assert len(believing) == len(knowing) == 300
    assert list(authored_table([found]))[-1] == "  dearer than the better fixed order: 0 of 1"
    swapped = replace(found, minutes={**found.minutes, "ours": found.fixed + 1})
    assert list(authored_table([swapped]))[-1].endswith(f"1 of 1, {P1.model.id}")
    assert len(list(wrong_table([found]))) == 4 and len(list(two_fault_table([found]))) == 4
    bars = {bar.name.partition(" (")[0]: bar for bar in authored_bars([found])}
    assert bars["authored: models that begin by handing over"].met


def test_a_model_whose_hand_over_is_cheaper_than_looking_misses_the_bar():
    found = measure_authored(replace(P1.model, hand_over=10.0), 40)
    assert found.hands_over_at_once
    assert not [bar for bar in authored_bars([replace(found, calibration=CALIBRATION)]) if "begin by" in bar.name][
        0
    ].met


CALIBRATION = Calibration(
    stated=np.array([0.95, 0.95, 0.55, 0.55]), right=np.array([1.0, 1.0, 0.0, 1.0]), brier=np.zeros(4)
)


def test_the_reliability_plot_has_a_point_a_bin_at_its_place():
    assert [(round(s, 2), o, n) for s, o, _, n in points(CALIBRATION)] == [(0.55, 0.5, 2), (0.95, 1.0, 2)]
    root = ElementTree.fromstring(reliability_svg("a < b", [("all & more", CALIBRATION)]))
    circles = [e for e in root.iter() if e.tag.endswith("circle")]
    assert [(c.get("cx"), c.get("cy")) for c in circles] == [("262.0", "224.0"), ("406.0", "44.0")]
    assert [e.text for e in root.iter() if e.tag.endswith("}title")][0] == "a < b"
    assert len(list(reliability_table("x", CALIBRATION))) == 3


def test_a_certain_check_is_worth_its_minute_to_the_optimum_over_sets():
    model = small(
        (0.5, 0.5),
        [("look", 1, binary(1, 0))],
        [("a", 10, (1, 0)), ("b", 10, (0, 1))],
        hand_over=100.0,
        proof_minutes=2.0,
    )
    model = made_crisp(model, 1)
    # look 1, the right repair 10, proof 2
    assert CrispOptimum(model).minutes(Energy.RUNNING) == pytest.approx(13.0)
