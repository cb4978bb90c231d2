"""Ranks and outcomes -> measures as the field writes them, each with a bootstrap confidence interval.

R@k: a grade-2 entry among the first k (recall where one entry answers, success where several do). RR: reciprocal rank
(MRR when averaged). nDCG@10: gain 2^grade - 1, discount log2(rank + 1) (Burges et al. 2005).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

RESAMPLES = 1000


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """A mean with its 95 % percentile bootstrap interval over n cases."""

    name: str
    mean: float
    low: float
    high: float
    n: int

    def __str__(self) -> str:
        """One row of a table."""
        return f"{self.name:<34} {self.mean:6.3f}  [{self.low:.3f}, {self.high:.3f}]  n={self.n}"


def measure(name: str, values: Sequence[float], seed: int = 0) -> Measure:
    """The mean of the values; no values give 0 with n = 0."""
    if not values:
        return Measure(name=name, mean=0.0, low=0.0, high=0.0, n=0)
    array = np.asarray(values, dtype=np.float64)
    chance = np.random.default_rng(seed)
    means = array[chance.integers(0, len(array), (RESAMPLES, len(array)))].mean(axis=1)
    low, high = np.quantile(means, (0.025, 0.975))
    return Measure(name=name, mean=float(array.mean()), low=float(low), high=float(high), n=len(array))


def recall_at(k: int, ranking: Sequence[str], wanted: frozenset[str]) -> float:
    """1 if a wanted entry is among the first k."""
    return float(any(entry in wanted for entry in ranking[:k]))


def reciprocal_rank(ranking: Sequence[str], wanted: frozenset[str]) -> float:
    """1 / rank of the first wanted entry, 0 if there is none."""
    return next((1.0 / rank for rank, entry in enumerate(ranking, start=1) if entry in wanted), 0.0)


def ndcg_at(k: int, ranking: Sequence[str], grades: Mapping[str, int]) -> float:
    """Normalised discounted cumulative gain with exponential gain."""
    gained = _dcg([grades.get(entry, 0) for entry in ranking[:k]])
    best = _dcg(sorted(grades.values(), reverse=True)[:k])
    return gained / best if best else 0.0


def _dcg(grades: Sequence[int]) -> float:
    return sum((2.0**grade - 1.0) / math.log2(place + 2) for place, grade in enumerate(grades))


def percentile(values: Sequence[float], share: float) -> float:
    """Linear percentile, 0 for no values."""
    return float(np.quantile(np.asarray(values), share)) if values else 0.0
