"""Question vector -> the refusals, by how near it is to the wishes that each names."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from assistant.domain.search import Nearness, Passage
from assistant.domain.stages import Vectors

UNSAFE = "unsafe"
NEIGHBOURS = 3
"""Mean of the three nearest: one odd phrasing alone does not choose the refusal."""


class WishCompass:
    """Holds the vectors of every refused phrasing."""

    def __init__(self, passages: Sequence[Passage], vectors: Vectors) -> None:
        """`passages` of refusals, and their vectors float32 (n, dim) in the same order."""
        owners = np.array([p.entry for p in passages])
        self._unsafe = {entry: vectors[owners == entry] for entry in sorted({p.entry for p in passages})}

    def nearness(self, vector: Vectors) -> tuple[Nearness, ...]:
        """Every refusal, nearest first, ties by id; vector float32 (1, dim) of unit length."""
        query = vector.reshape(-1)
        found = [Nearness(refusal=entry, unsafe=_mean_of_best(own @ query)) for entry, own in self._unsafe.items()]
        return tuple(sorted(found, key=lambda n: (-n.unsafe, n.refusal)))


def _mean_of_best(similarities: Vectors) -> float:
    best = np.sort(similarities)[::-1][:NEIGHBOURS]
    return float(best.mean()) if len(best) else 0.0
