"""Machines with two faults at once -> what they cost when the belief supposes one, with the restart after a surprising proof and without."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from assistant.domain.isolation import IsolationModel
from assistant.domain.terms import Energy
from assistant.isolation.policy import Isolator
from eval.isolation.alarms import named_only
from eval.isolation.simulation import Faults, Flags, Floats, Ints, Simulation, draw
from eval.isolation.tree import policy_of


@dataclass(frozen=True, slots=True, kw_only=True)
class TwoFaults:
    """Two faults a machine; a check shows what is not normal if either would show it, and the first where both would."""

    first: Faults
    second: Faults
    normal: tuple[int, ...]
    """Index of the normal outcome of every check."""

    @property
    def many(self) -> int:
        """How many machines."""
        return self.first.many

    def answers(self, jobs: Ints, check: int, done: Iterable[int]) -> Ints:
        """What the faults that are left show."""
        one, two = self.first.answer[jobs, check], self.second.answer[jobs, check]
        first_gone, second_gone = self.first.cured(jobs, done), self.second.cured(jobs, done)
        second_speaks = first_gone | ((one == self.normal[check]) & ~second_gone)
        return np.asarray(np.where(second_speaks, two, one))

    def cured(self, jobs: Ints, done: Iterable[int]) -> Flags:
        """Both are gone."""
        done = tuple(done)
        return np.asarray(self.first.cured(jobs, done) & self.second.cured(jobs, done))


def draw_two(model: IsolationModel, many: int, seed: int) -> TwoFaults:
    """Pairs of different named causes, each by its weight."""
    named = named_only(model)
    first = draw(named, many, seed)
    second = draw(named, many, seed + 1)
    rng = np.random.default_rng([seed, 2])
    # a machine has not the same fault twice: those pairs are drawn again, the second by its weight among the others
    while (same := first.cause == second.cause).any():
        again = draw(named, many, int(rng.integers(1, 2**31)))
        second = Faults(
            cause=np.where(same, again.cause, second.cause),
            answer=np.where(same[:, None], again.answer, second.answer),
            cures=np.where(same[:, None], again.cures, second.cures),
        )
    return TwoFaults(first=first, second=second, normal=tuple(check.normal for check in model.checks))


@dataclass(frozen=True, slots=True, kw_only=True)
class TwoFaultCost:
    """Minutes (F,) and hand-overs (F,) of the same pairs with the restart and without."""

    restart: Floats
    keeping: Floats
    restart_handed: Flags
    keeping_handed: Flags


def two_fault_cost(model: IsolationModel, many: int, energy: Energy, seed: int = 5) -> TwoFaultCost:
    """Ours on pairs."""
    pairs = draw_two(model, many, seed)
    policy = policy_of(Isolator(model))
    with_restart = Simulation(model, policy, restart=True).run(pairs, energy)
    without = Simulation(model, policy).run(pairs, energy)
    return TwoFaultCost(
        restart=with_restart.minutes,
        keeping=without.minutes,
        restart_handed=with_restart.handed_over,
        keeping_handed=without.handed_over,
    )
