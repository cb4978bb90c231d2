"""Several rankings -> one, by reciprocal rank (Cormack, Clarke and Büttcher 2009, k = 60), weighted."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from assistant.domain.search import Hit
from assistant.domain.terms import EntryId

K = 60.0


def fuse(
    rankings: Mapping[str, Sequence[Hit]], weights: Mapping[str, float], limit: int, k: float = K
) -> tuple[Hit, ...]:
    """Score = Σ weight / (k + rank), ranks from 1; best first, ties by id."""
    scores: dict[EntryId, float] = {}
    ranks: dict[EntryId, list[tuple[str, int]]] = {}
    passages: dict[EntryId, str] = {}
    for name in sorted(rankings):
        for rank, hit in enumerate(rankings[name], start=1):
            scores[hit.entry] = scores.get(hit.entry, 0.0) + weights.get(name, 1.0) / (k + rank)
            ranks.setdefault(hit.entry, []).append((name, rank))
            if hit.passage:
                passages.setdefault(hit.entry, hit.passage)
    order = sorted(scores, key=lambda entry: (-scores[entry], entry))[:limit]
    return tuple(
        Hit(entry=entry, score=scores[entry], ranks=tuple(ranks[entry]), passage=passages.get(entry, ""))
        for entry in order
    )
