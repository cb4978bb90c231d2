"""A small fault model -> its least expected minutes over all policies, by dense dynamic programming.

State: outcome of every check or not done, set of repairs done and failed, energy state; values are not normalised, so that
a child is a table look-up. Repairs between two proofs are taken as one step (a set, its cheapest tour, the proof): no check
may come between them, and handing over after one of them loses its minutes against handing over before. Own work.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np
import numpy.typing as npt

from assistant.domain.isolation import LADDER, IsolationModel, depth
from assistant.domain.terms import Energy

Floats = npt.NDArray[np.float64]
MOST_STATES = 3_000_000
"""Cells of the table that are worth the time: about a second."""


def table_size(model: IsolationModel) -> int:
    """Cells of the table."""
    cells = 3 * (1 << len(model.repairs))
    for check in model.checks:
        cells *= len(check.outcomes) + 1 + bool(check.dont_know)
    return cells


class Optimum:
    """The exact solution of one model with perfect proofs; `minutes` from a state, all checks open.

    Raises:
        ValueError: the model's proofs are not perfect.

    """

    def __init__(self, model: IsolationModel) -> None:
        if model.passes_anyway:
            raise ValueError(f"{model.id}: an uncured machine passes with {model.passes_anyway}")
        self._model = model
        self._travel = np.array([[model.ladder.minutes(a, b) for b in LADDER] for a in LADDER])
        self._rows = [self._check_rows(index) for index in range(len(model.checks))]
        self._shape = tuple(len(rows) + 1 for rows in self._rows)
        self._solved: dict[int, Floats] = {}
        self._tours: dict[tuple[tuple[int, ...], int], float] = {}
        every = range(len(model.repairs))
        for many in range(len(model.repairs), -1, -1):
            masks = [sum(1 << index for index in chosen) for chosen in combinations(every, many)]
            mass = np.array([self._mass(mask) for mask in masks])
            value = np.stack([self._repairs(mask, some) for mask, some in zip(masks, mass, strict=True)], axis=1)
            self._checks(mass, value)
            self._solved |= {mask: value[:, index] for index, mask in enumerate(masks)}

    def minutes(self, energy: Energy) -> float:
        """Least expected minutes."""
        root = (0,) * len(self._shape)
        return float(self._solved[0][(depth(energy), *root)])

    def _check_rows(self, index: int) -> Floats:
        check = self._model.checks[index]
        rows = [(1.0 - check.dont_know) * np.array(row) for row in check.likelihood]
        if check.dont_know:
            rows.append(np.full(len(self._model.causes), check.dont_know))
        return np.array(rows)

    def _mass(self, mask: int) -> Floats:
        """Weight of every combination of outcomes, with the repairs of the mask failed."""
        weights = np.array(self._model.prior)
        for index, repair in enumerate(self._model.repairs):
            if mask >> index & 1:
                weights = weights * (1.0 - np.array(repair.cures))
        mass = np.zeros(self._shape)
        for cause, weight in enumerate(weights):
            term: Floats = np.array(weight)
            for rows in self._rows:
                term = np.multiply.outer(term, np.concatenate([[1.0], rows[:, cause]]))
            mass += term
        return mass

    def _repairs(self, mask: int, mass: Floats) -> Floats:
        """Handing over, or a set of repairs and the proof: value (3, outcomes of all checks)."""
        value = np.stack([self._model.hand_over * mass] * len(LADDER))
        rest = [index for index in range(len(self._model.repairs)) if not mask >> index & 1]
        home = depth(self._model.proof_energy)
        for many in range(1, len(rest) + 1):
            for chosen in combinations(rest, many):
                then = self._solved[mask | sum(1 << index for index in chosen)][home]
                for energy in range(len(LADDER)):
                    spent = self._tour(chosen, energy) + self._model.proof_minutes
                    block = spent * mass
                    block += then
                    np.minimum(value[energy, ...], block, out=value[energy, ...])
        return value

    def _tour(self, chosen: tuple[int, ...], energy: int) -> float:
        if (chosen, energy) not in self._tours:
            self._tours[chosen, energy] = tour_minutes(self._model, chosen, energy)
        return self._tours[chosen, energy]

    def _checks(self, mass: Floats, value: Floats) -> None:
        """Every check in every place where it is open, places with most checks done first; sets of failed repairs in front."""
        checks = self._model.checks
        done_sets = [frozenset(c) for k in range(len(checks) - 1, -1, -1) for c in combinations(range(len(checks)), k)]
        for done in done_sets:
            at = tuple(slice(1, None) if index in done else slice(0, 1) for index in range(len(checks)))
            here = mass[(slice(None), *at)]
            best = value[(slice(None), slice(None), *at)]
            for index, check in enumerate(checks):
                if index in done:
                    continue
                child = (*at[:index], slice(1, None), *at[index + 1 :])
                for state in map(depth, check.states):
                    after = value[(state, slice(None), *child)].sum(axis=index + 1, keepdims=True)
                    for energy in range(len(LADDER)):
                        spent = self._travel[energy, state] + check.minutes
                        np.minimum(best[energy], spent * here + after, out=best[energy])


def tour_minutes(model: IsolationModel, chosen: Sequence[int], energy: int) -> float:
    """Least minutes of way and work for a set of repairs, ending where the proof runs: shortest path over states visited."""
    repairs = [model.repairs[index] for index in chosen]
    home = depth(model.proof_energy)
    allowed = [{depth(e) for e in repair.states} for repair in repairs]
    way = min(
        sum(model.ladder.minutes(LADDER[a], LADDER[b]) for a, b in zip((energy, *stops), (*stops, home), strict=True))
        for stops in _walks()
        if all(some & {*stops, energy, home} for some in allowed)
    )
    return float(way + sum(repair.minutes + repair.price for repair in repairs))


def _walks() -> list[tuple[int, ...]]:
    """Orders in which up to three states may be visited."""
    states = range(len(LADDER))
    return (
        [()]
        + [(a,) for a in states]
        + [(a, b) for a in states for b in states]
        + [(a, b, c) for a in states for b in states for c in states]
    )
