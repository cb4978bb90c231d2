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


def precision_recall(flagged: Sequence[bool], true: Sequence[bool]) -> tuple[float, float]:
    """Precision and recall of a flag; 1.0 where nothing was flagged, or nothing was to be flagged."""
    hits = sum(f and t for f, t in zip(flagged, true, strict=True))
    return (hits / sum(flagged) if any(flagged) else 1.0, hits / sum(true) if any(true) else 1.0)


def risk_coverage(confidence: Sequence[float], loss: Sequence[float]) -> tuple[tuple[float, float], ...]:
    """(share answered, mean loss among them) as ever less confident questions are answered, ties together.

    El-Yaniv and Wiener 2010, the risk-coverage curve of selective classification.
    """
    order = sorted(range(len(loss)), key=lambda i: (-confidence[i], i))
    points, total = [], 0.0
    for place, i in enumerate(order, start=1):
        total += loss[i]
        last = place == len(order) or confidence[order[place]] != confidence[i]
        if last:
            points.append((place / len(order), total / place))
    return tuple(points)


def area_under_risk(confidence: Sequence[float], loss: Sequence[float]) -> float:
    """AURC: the mean of the selective risk over all coverages 1/n .. 1 (Geifman, Uziel and El-Yaniv 2019), ties by place."""
    order = sorted(range(len(loss)), key=lambda i: (-confidence[i], i))
    risks, total = [], 0.0
    for place, i in enumerate(order, start=1):
        total += loss[i]
        risks.append(total / place)
    return sum(risks) / len(risks) if risks else 0.0


def edit_distance(reference: Sequence[str], heard: Sequence[str]) -> int:
    """Fewest substitutions, deletions and insertions (Levenshtein 1966)."""
    row = list(range(len(heard) + 1))
    for i, word in enumerate(reference, start=1):
        corner, row[0] = row[0], i
        for j, other in enumerate(heard, start=1):
            corner, row[j] = row[j], min(row[j] + 1, row[j - 1] + 1, corner + (word != other))
    return row[-1]


def error_rate(references: Sequence[Sequence[str]], heard: Sequence[Sequence[str]]) -> float:
    """Edits over all pairs / items of all references: WER where the items are words, CER where they are characters."""
    edits = sum(edit_distance(r, h) for r, h in zip(references, heard, strict=True))
    length = sum(len(r) for r in references)
    return edits / length if length else 0.0


def randomisation_p(one: Sequence[float], other: Sequence[float], seed: int = 0, rounds: int = 10_000) -> float:
    """Two-sided p of a paired randomisation test on the mean difference (Fisher 1935; Smucker, Allan and Carterette 2007)."""
    difference = np.asarray(one, dtype=np.float64) - np.asarray(other, dtype=np.float64)
    if not difference.size or not np.any(difference):
        return 1.0
    changed = difference[difference != 0.0]
    chance = np.random.default_rng(seed)
    signs = chance.integers(0, 2, (rounds, changed.size), dtype=np.int8) * 2 - 1
    sums = np.abs(signs @ changed)
    return float((np.sum(sums >= abs(changed.sum()) - 1e-12) + 1) / (rounds + 1))
