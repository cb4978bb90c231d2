"""Answers given twice, the false alarms that the threshold leaves, and what the alarm would be with its formula broken."""

import sys
from dataclasses import replace

import pytest

from assistant.domain.fault_log import Answered, CantCheck, DontKnow, ProofFailed, Repaired, Revised
from assistant.isolation import Isolator, contradiction
from assistant.isolation.contradiction import SLIP, twice_alike
from eval.isolation.alarms import guided, together
from eval.isolation.generator import Size, generate
from eval.isolation.simulation import Simulation
from eval.isolation.tree import policy_of
from tests.isolation.small_models import public_models, small, unit

module = sys.modules["assistant.isolation.contradiction"]
P1 = public_models()["P1"].model
ROWS = [(f"k{i}", 1, ((0.98, 0.02, 0.02), (0.02, 0.98, 0.98))) for i in range(4)]
MODEL = small((0.5, 0.25, 0.2), ROWS, [(f"r{i}", 5, unit(i, 3)) for i in range(3)])
ODD = (*(Answered(check=f"k{i}", outcome="o0") for i in range(3)), Answered(check="k3", outcome="o1"))
"""Three clear signs and a fourth against them."""


def said(check, outcome):
    return Answered(check=check, outcome=outcome)


def test_the_suspect_answered_again_alike_is_believed():
    assert contradiction(MODEL, ODD).alarm
    again = (*ODD, Revised(check="k3", to=None), said("k3", "o1"))
    after = contradiction(MODEL, again)
    assert not after.alarm
    # both looks would have to be wrong: the odds of one slip squared
    once = {s.check: s.chance for s in contradiction(MODEL, ODD).suspects}["k3"] / contradiction(
        MODEL, ODD
    ).all_as_stated
    twice = {s.check: s.chance for s in after.suspects}["k3"] / after.all_as_stated
    assert twice == pytest.approx(once * SLIP / (1 - SLIP))


def test_a_suspect_answered_otherwise_stops_the_alarm_by_fitting():
    after = contradiction(MODEL, (*ODD, Revised(check="k3", to=None), said("k3", "o0")))
    assert not after.alarm and after.all_as_stated > 0.95


@pytest.mark.parametrize(
    ("log", "alike"),
    [
        ((said("k0", "o0"),), set()),
        ((said("k0", "o0"), Revised(check="k0", to=None), said("k0", "o0")), {0}),
        ((said("k0", "o0"), Revised(check="k0", to=None), said("k0", "o1")), set()),
        ((said("k0", "o0"), Revised(check="k0", to=said("k0", "o0"))), set()),
        ((said("k0", "o0"), Repaired(repair="r0"), ProofFailed(), said("k0", "o0")), {0}),
        ((said("k0", "o0"), said("k0", "o0"), said("k0", "o1")), set()),
        ((DontKnow(check="k0"), CantCheck(check="k1"), said("k2", "o0")), set()),
    ],
)
def test_a_second_look_is_a_second_answer_not_a_word_put_right(log, alike):
    assert twice_alike(MODEL, log) == alike


def sessions():
    """Guided sessions on generated models."""
    found = []
    for seed in range(8):
        model, energy = generate(710_000 + seed, Size(causes=10, checks=10, repairs=6, family="mixed"))
        found.append(guided(model, Simulation(model, policy_of(Isolator(model))), energy, 200, seed))
    return together(found)


def test_the_threshold_keeps_its_false_alarms_and_catches_what_it_should():
    found = sessions()
    assert found.plain.alarm.mean() < 0.073
    assert found.caught.sum() / found.slips.sum() > 0.25
    assert found.right(1) / found.caught.sum() > 0.6


def test_an_alarm_that_suspects_every_answer_is_caught(monkeypatch):
    # planted: the sum over all outcomes, the stated one with them, in place of the mean over the others
    sound = module._otherwise

    def summed(model, at, index):
        ratio, best = sound(model, at, index)
        return ratio * (len(model.checks[index].outcomes) - 1) + 1.0, best

    monkeypatch.setattr(module, "_otherwise", summed)
    found = sessions()
    assert found.plain.alarm.mean() > 0.073


def test_an_alarm_that_asks_no_other_answer_is_caught(monkeypatch):
    # planted: how rare an answer is by the prior alone; it names the rare, not what disagrees with the others
    sound = module._otherwise
    monkeypatch.setattr(module, "_otherwise", lambda model, at, index: sound(model, alone(model, at, index), index))
    found = sessions()
    assert found.caught.sum() / found.slips.sum() < 0.25


def alone(model, at, index):
    answers = tuple(answer if i == index else None for i, answer in enumerate(at.answers))
    return replace(at, answers=answers, failed=frozenset(), unproved=frozenset(), passes=0)


def test_no_alarm_rings_for_one_answer_alone():
    for check in P1.checks:
        for outcome in check.outcomes:
            assert not contradiction(P1, (said(check.id, outcome),)).alarm
