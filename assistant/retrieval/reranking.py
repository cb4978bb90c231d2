"""Fused candidates -> the final order: a linear score over each ranker's evidence, the names and the kind asked for.

Reciprocal rank fusion finds the candidates; it forgets how near each was, and this brings that back. The weights are
fitted by `python -m eval calibrate` (softmax over the candidates of each development question).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from assistant.domain.search import Hit, Query
from assistant.domain.terms import EntryId, Kind
from assistant.retrieval.whitening import Closeness

FIRST = 100.0
"""Added for an entry whose code is named: nothing else can outrank it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """What each ranker says of one entry.

    Best and mean of the three best cosines, the best cosine of any entry, BM25, closeness in the whitened space, and ranks
    (0 = not found).
    """

    asked_cosine: float = 0.0
    asked_mean: float = 0.0
    told_cosine: float = 0.0
    asked_bm25: float = 0.0
    told_bm25: float = 0.0
    asked_bm25_share: float = 0.0
    told_bm25_share: float = 0.0
    top_cosine: float = 1.0
    whitened: Closeness = Closeness()
    ranks: tuple[tuple[str, int], ...] = ()


def features(query: Query, entry: EntryId, kind: Kind, evidence: Evidence) -> dict[str, float]:
    """Named features of one candidate; absent means zero."""
    row = {
        "asked_cosine": evidence.asked_cosine,
        "asked_mean": evidence.asked_mean,
        "told_cosine": evidence.told_cosine,
        "asked_bm25": evidence.asked_bm25 / 30.0,
        "told_bm25": evidence.told_bm25 / 30.0,
        "asked_share": evidence.asked_bm25_share,
        "told_share": evidence.told_bm25_share,
        "asked_share_cosine": evidence.asked_cosine / max(evidence.top_cosine, 1e-6),
        "whitened_centre": 3.0 * evidence.whitened.centre,
        "whitened_best": 3.0 * evidence.whitened.best,
        "whitened_mean": 3.0 * evidence.whitened.mean,
        "whitened_share": evidence.whitened.share,
        f"kind:{kind}": 1.0,
    }
    for name, rank in evidence.ranks:
        row[f"rank:{name}"] = 10.0 / (10.0 + rank)
    for wished in query.wishes:
        row[f"wished {wished}:{kind}"] = 1.0
    asks = "component" if Kind.COMPONENT in query.wishes or not query.wishes else str(query.wishes[0])
    if entry in query.aliased:
        row[f"aliased:{asks}"] = 1.0
    if entry in query.exact and kind is not Kind.CODE:
        row[f"exact:{asks}"] = 1.0
    return row


def rerank(
    query: Query,
    candidates: Sequence[Hit],
    kinds: Mapping[EntryId, Kind],
    evidence: Mapping[EntryId, Evidence],
    weights: Mapping[str, float],
) -> tuple[Hit, ...]:
    """The candidates by score, entries of named codes first in the order named; ties by id."""
    result: list[Hit] = []
    for hit in candidates:
        row = features(query, hit.entry, kinds[hit.entry], evidence.get(hit.entry, Evidence()))
        score = sum(weights.get(name, 0.0) * value for name, value in row.items())
        if hit.entry in query.exact and kinds[hit.entry] is Kind.CODE:
            score += FIRST - query.exact.index(hit.entry)
        result.append(Hit(entry=hit.entry, score=score, ranks=hit.ranks, passage=hit.passage))
    return tuple(sorted(result, key=lambda h: (-h.score, h.entry)))
