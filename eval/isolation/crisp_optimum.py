"""A fault model of always and never -> its least expected minutes, where a table over all outcomes would be too large.

With every likelihood 0 or 1 the answers leave a set of causes that could still be, and nothing else of them matters: a check
that still splits the set has not been done. State: surviving set, set of repairs failed, energy state. Repairs between two
proofs are one step, as in the dense table. Values are not normalised. Own work.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
import numpy.typing as npt

from assistant.domain.isolation import LADDER, IsolationModel, depth
from assistant.domain.terms import Energy
from eval.isolation.optimum import tour_minutes

Floats = npt.NDArray[np.float64]


def made_crisp(model: IsolationModel, seed: int) -> IsolationModel:
    """The model with something else deciding every check by a coin: its outcomes must be certain too to be solved here."""
    rng = np.random.default_rng([seed, 21])
    checks = []
    for check in model.checks:
        likely = np.array(check.likelihood)
        chosen = int(rng.choice(len(likely), p=likely[:, -1] / likely[:, -1].sum()))
        outcome = np.array([int(np.flatnonzero(column).min()) for column in likely.T[:-1]] + [chosen])
        rows = (outcome[None, :] == np.arange(len(likely))[:, None]).astype(float)
        checks.append(replace(check, likelihood=tuple(map(tuple, rows.tolist()))))
    return replace(model, checks=tuple(checks))


class CrispOptimum:
    """The exact solution of one model with perfect proofs.

    Raises:
        ValueError: the proofs are not perfect, or a likelihood is neither 0 nor 1.

    """

    def __init__(self, model: IsolationModel) -> None:
        if model.passes_anyway or any(check.dont_know for check in model.checks):
            raise ValueError(f"{model.id}: a proof or a check that is not certain")
        self._model = model
        self._sees = [_masks(model, index) for index in range(len(model.checks))]
        self._tours: dict[tuple[tuple[int, ...], int], float] = {}
        self._travel = np.array([[model.ladder.minutes(a, b) for b in LADDER] for a in LADDER])
        self._sets = self._surviving()
        self._at = {cells: index for index, cells in enumerate(self._sets)}
        self._solve()

    def minutes(self, energy: Energy) -> float:
        """Least expected minutes from the beginning."""
        return float(self._value[depth(energy), 0, self._at[(1 << len(self._model.causes)) - 1]])

    def _surviving(self) -> list[int]:
        """Every set of causes that answers can leave, smallest first."""
        found = {(1 << len(self._model.causes)) - 1}
        fresh = list(found)
        while fresh:
            parts = {cells & mask for cells in fresh for masks in self._sees for mask in masks}
            fresh = [part for part in parts if part and part not in found]
            found.update(fresh)
        return sorted(found, key=lambda cells: (cells.bit_count(), cells))

    def _solve(self) -> None:
        """Sets of failed repairs from all to none; of each size together, surviving sets from small to large."""
        many = len(self._model.repairs)
        self._value = np.zeros((len(LADDER), 1 << many, len(self._sets)))
        member = np.array([[cells >> c & 1 for cells in self._sets] for c in range(len(self._model.causes))])
        self._mass = _left(self._model) @ member
        levels: dict[int, list[int]] = {}
        for index, cells in enumerate(self._sets):
            levels.setdefault(cells.bit_count(), []).append(index)
        splits = {size: self._splits(some) for size, some in levels.items()}
        for size in range(many, -1, -1):
            failed = [sum(1 << r for r in chosen) for chosen in combinations(range(many), size)]
            for mask in failed:
                self._blocks(mask)
            for level in sorted(levels):
                self._checks(np.array(failed), splits[level])

    def _blocks(self, mask: int) -> None:
        """Handing over, or a set of repairs and the proof."""
        mass, value = self._mass[mask], self._value
        value[:, mask] = self._model.hand_over * mass
        home = depth(self._model.proof_energy)
        rest = [r for r in range(len(self._model.repairs)) if not mask >> r & 1]
        for many in range(1, len(rest) + 1):
            for chosen in combinations(rest, many):
                then = value[home, mask | sum(1 << r for r in chosen)]
                for energy in range(len(LADDER)):
                    spent = self._tour(chosen, energy) + self._model.proof_minutes
                    np.minimum(value[energy, mask], spent * mass + then, out=value[energy, mask])

    def _tour(self, chosen: tuple[int, ...], energy: int) -> float:
        if (chosen, energy) not in self._tours:
            self._tours[chosen, energy] = tour_minutes(self._model, chosen, energy)
        return self._tours[chosen, energy]

    def _splits(self, level: list[int]) -> list[tuple[int, npt.NDArray[np.intp], list[npt.NDArray[np.intp]]]]:
        """Per check the sets of a level that it splits, and the index of each part; the last set is the empty one, worth 0."""
        found = []
        for check, masks in enumerate(self._sees):
            apart = [i for i in level if sum(bool(self._sets[i] & mask) for mask in masks) > 1]
            if apart:
                parts = [np.array([self._at.get(self._sets[i] & mask, -1) for i in apart]) for mask in masks]
                found.append((check, np.array(apart), parts))
        return found

    def _checks(
        self, failed: npt.NDArray[np.intp], splits: list[tuple[int, npt.NDArray[np.intp], list[npt.NDArray[np.intp]]]]
    ) -> None:
        """Every check that tells something, in every state it may be done in."""
        for index, apart, parts in splits:
            check = self._model.checks[index]
            mass = self._mass[np.ix_(failed, apart)]
            for state in map(depth, check.states):
                after = sum(np.where(part >= 0, self._value[state][np.ix_(failed, part)], 0.0) for part in parts)
                for energy in range(len(LADDER)):
                    spent = (self._travel[energy, state] + check.minutes) * mass + after
                    here = np.ix_(failed, apart)
                    self._value[energy][here] = np.minimum(self._value[energy][here], spent)


def _masks(model: IsolationModel, index: int) -> tuple[int, ...]:
    """Per outcome the causes under which it shows."""
    rows = model.checks[index].likelihood
    if any(cell not in (0.0, 1.0) for row in rows for cell in row):
        raise ValueError(f"{model.id}: `{model.checks[index].id}` is not certain")
    return tuple(sum(1 << cause for cause, cell in enumerate(row) if cell) for row in rows)


def _left(model: IsolationModel) -> Floats:
    """Weight of each cause (failed sets, causes) that has outlived the failed repairs."""
    many = len(model.repairs)
    rows = []
    for mask in range(1 << many):
        weight = np.array(model.prior)
        for index, repair in enumerate(model.repairs):
            if mask >> index & 1:
                weight = weight * (1.0 - np.array(repair.cures))
        rows.append(weight)
    return np.array(rows)
