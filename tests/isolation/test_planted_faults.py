"""Faults planted in the engine, each seen to be caught by the measure that guards against it: the ratio to the optimum."""

from dataclasses import replace

import numpy as np
import pytest

from assistant.domain.fault_log import Answered
from assistant.errors import IsolationError
from assistant.isolation import Isolator, belief
from assistant.isolation.lookahead import Lookahead, Search
from assistant.isolation.repair_plan import RepairPlan
from eval.isolation.generator import FAMILIES, Size, generate
from eval.isolation.optimum import Optimum
from eval.isolation.tree import expected_minutes, policy_of
from tests.isolation.small_models import FREE, public_models, small

MODELS = [
    generate(9000 + i, Size(causes=6, checks=5, repairs=4, family=FAMILIES[i % 4], crisp=i % 3 == 0)) for i in range(16)
]
BAR = 1.008
"""Mean ratio to the optimum that the sound policy keeps on these models and every planted fault breaks."""


@pytest.fixture(scope="module")
def optima():
    return [Optimum(model).minutes(energy) for model, energy in MODELS]


def mean_ratio(optima, isolator=Isolator):
    ratios = [
        expected_minutes(model, policy_of(isolator(model)), energy) / least
        for (model, energy), least in zip(MODELS, optima, strict=True)
    ]
    assert min(ratios) > 1 - 1e-9
    return float(np.mean(ratios))


def test_the_sound_policy_keeps_the_bar(optima):
    assert mean_ratio(optima) < BAR


def test_free_changes_of_state_are_caught(optima):
    assert mean_ratio(optima, lambda model: Isolator(replace(model, ladder=FREE))) > BAR


def test_a_proof_after_every_repair_is_caught(optima):
    assert mean_ratio(optima, lambda model: Isolator(model, Search(block=1))) > BAR


def test_ranking_by_one_step_only_is_caught(optima):
    assert mean_ratio(optima, lambda model: Isolator(model, Search(depth=1))) > BAR


def test_a_flat_prior_is_caught(optima):
    def flat(model):
        return Isolator(replace(model, prior=tuple([1 / len(model.prior)] * len(model.prior))))

    assert mean_ratio(optima, flat) > BAR


def test_beliefs_that_do_not_see_the_answers_are_caught(optima, monkeypatch):
    branches = Lookahead._branches

    def blind(self, weights, check):
        found = branches(self, weights, check)
        mass = found.weights.sum(axis=1, keepdims=True)
        whole = weights[found.pair]
        return replace(found, weights=whole / whole.sum(axis=1, keepdims=True) * mass)

    monkeypatch.setattr(Lookahead, "_branches", blind)
    assert mean_ratio(optima) > BAR


def test_gains_of_overlapping_repairs_that_are_not_updated_are_caught(monkeypatch):
    # a2 alone cures what a1 and a3 cure together; a plan that keeps a gain already taken counts causes twice
    repairs = [("a1", 5, (1, 0, 1, 0)), ("a2", 6, (1, 1, 0, 0)), ("a3", 8, (1, 1, 1, 0)), ("a4", 4, (0, 0, 1, 1))]
    model = small((0.35, 0.30, 0.20, 0.15), repairs=repairs)
    energy = model.proof_energy

    def promised_and_kept():
        isolator = Isolator(model, Search(depth=0))
        return isolator.decide((), energy).minutes_left, expected_minutes(model, policy_of(isolator), energy)

    promised, kept = promised_and_kept()
    assert promised == pytest.approx(kept) == pytest.approx(8.3)
    made = RepairPlan.__init__

    def never_updated(self, *arguments):
        made(self, *arguments)
        self._keep = np.ones_like(self._keep)

    monkeypatch.setattr(RepairPlan, "__init__", never_updated)
    promised, kept = promised_and_kept()
    assert promised < kept - 0.2


def test_a_column_that_does_not_sum_to_one_is_caught_before_it_costs():
    check = public_models()["P1"].model.checks[0]
    slipped = replace(check, likelihood=((0.98, 0.98, 0.12, 0.98, 0.5), check.likelihood[1]))
    with pytest.raises(IsolationError, match="`relay` sum to 1.1"):
        replace(public_models()["P1"].model, checks=(slipped,))


def test_hard_zeros_make_an_answer_irrevocable_and_are_caught():
    # one wrong answer against two right ones: with never at .02 they win it back, with 0 nothing can
    soft = ((0.98, 0.02), (0.02, 0.98))
    hard = ((1.0, 0.0), (0.0, 1.0))
    log = (Answered(check="k0", outcome="o1"), Answered(check="k1", outcome="o0"), Answered(check="k2", outcome="o0"))

    def after(first):
        rows = [("k0", 1, first), ("k1", 1, soft), ("k2", 1, soft)]
        return belief(small((0.5, 0.45), rows, [("a", 3, (1, 0)), ("b", 4, (0, 1))]), log)["c1"]

    # .5 * .02 * .98 * .98 of what is left, the other cause .45 * .98 * .02 * .02
    assert after(soft) == pytest.approx(
        0.5 * 0.02 * 0.98**2 / (0.5 * 0.02 * 0.98**2 + 0.45 * 0.98 * 0.02**2 + 0.05 * 0.5**3)
    )
    assert after(soft) > 0.5
    assert after(hard) == 0.0
