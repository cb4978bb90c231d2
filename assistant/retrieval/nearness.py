"""Question vector -> how near it is to wishes that are refused and to their harmless look-alikes."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from assistant.domain.search import Nearness, Passage
from assistant.domain.stages import Vectors
from assistant.domain.terms import EntryId

UNSAFE = "unsafe"
BENIGN = "benign"
NEIGHBOURS = 3
"""Mean of the three nearest: one odd phrasing alone neither condemns nor acquits."""


class WishCompass:
    """Holds the vectors of every refused phrasing and of every look-alike."""

    def __init__(self, passages: Sequence[Passage], vectors: Vectors) -> None:
        """`passages` with section `unsafe` or `benign`, and their vectors float32 (n, dim) in the same order."""
        self._refusals = tuple(sorted({p.entry for p in passages if p.section == UNSAFE}))
        sides = np.array([p.section == UNSAFE for p in passages], dtype=bool)
        owners = np.array([p.entry for p in passages])
        self._unsafe: dict[EntryId, Vectors] = {entry: vectors[sides & (owners == entry)] for entry in self._refusals}
        self._benign = vectors[~sides]

    def nearness(self, vector: Vectors) -> tuple[Nearness, ...]:
        """For each refusal, nearest first: similarity to its phrasings, to any look-alike, and the difference."""
        if not self._refusals:
            return ()
        query = vector.reshape(-1)
        benign = _mean_of_best(self._benign @ query) if len(self._benign) else 0.0
        found = [
            Nearness(refusal=entry, unsafe=unsafe, benign=benign, margin=unsafe - benign)
            for entry, unsafe in ((e, _mean_of_best(self._unsafe[e] @ query)) for e in self._refusals)
        ]
        return tuple(sorted(found, key=lambda n: (-n.unsafe, n.refusal or "")))


def _mean_of_best(similarities: Vectors) -> float:
    best = np.sort(similarities)[::-1][:NEIGHBOURS]
    return float(best.mean()) if len(best) else 0.0
