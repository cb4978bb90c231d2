"""The same questions by each ranker alone, by fusion, and by the whole: which part earns its place."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from assistant.domain.search import Hit
from assistant.retrieval.fusion import fuse
from assistant.retrieval.retriever import HybridRetriever, Tuning
from eval.calibrate import Seen
from eval.measures import measure, recall_at

Order = Callable[[Seen], Sequence[Hit]]


def ablation(retriever: HybridRetriever, seen: Sequence[Seen]) -> list[str]:
    """A line a variant: R@1, R@3, R@10 with intervals of R@1."""
    whole = retriever.tuning
    names = ("asked", "told", "dense-asked", "dense-told")
    variants: dict[str, Order] = {
        "BM25 (phrasings)": lambda item: item.rankings.lists["asked"],
        "BM25 (prose)": lambda item: item.rankings.lists["told"],
        "dense (phrasings)": lambda item: item.rankings.lists["dense-asked"],
        "dense (prose)": lambda item: item.rankings.lists["dense-told"],
        "BM25, both fused": _fused({"asked": 1.0, "told": 0.5}, whole),
        "dense, both fused": _fused({"dense-asked": 1.5, "dense-told": 0.5}, whole),
        "hybrid, rank fusion only": _fused(whole.fusion, whole),
        "hybrid, weighed": lambda item: retriever.ordered(item.query, item.rankings),
    }
    for name in names:
        variants[f"hybrid without {name}"] = _without(retriever, whole, name)
    asked = [item for item in seen if item.case.wanted and item.case.outcome == "answered"]
    lines = []
    for title, order in variants.items():
        rankings = [[str(hit.entry) for hit in order(item)] for item in asked]
        one = measure("R@1", [recall_at(1, r, i.case.wanted) for r, i in zip(rankings, asked, strict=True)])
        rest = [
            measure("", [recall_at(k, r, i.case.wanted) for r, i in zip(rankings, asked, strict=True)]) for k in (3, 10)
        ]
        lines.append(
            f"  {title:<28} R@1 {one.mean:.3f} [{one.low:.3f}, {one.high:.3f}]  R@3 {rest[0].mean:.3f}  R@10 {rest[1].mean:.3f}"
        )
    return lines


def _fused(weights: Mapping[str, float], tuning: Tuning) -> Order:
    return lambda item: fuse({n: item.rankings.lists[n] for n in weights}, weights, 60, tuning.k)


def _without(retriever: HybridRetriever, whole: Tuning, name: str) -> Order:
    fusion = {n: w for n, w in whole.fusion.items() if n != name}
    dropped = {
        "asked": ("asked_bm25", "asked_share", "rank:asked"),
        "told": ("told_bm25", "told_share", "rank:told"),
        "dense-asked": ("asked_cosine", "asked_mean", "rank:dense-asked"),
        "dense-told": ("told_cosine", "rank:dense-told"),
    }[name]
    ranking = {n: w for n, w in whole.ranking.items() if n not in dropped}

    def order(item: Seen) -> Sequence[Hit]:
        retriever.tuning = replace(whole, fusion=fusion, ranking=ranking)
        try:
            rankings = replace(item.rankings, lists={n: hits for n, hits in item.rankings.lists.items() if n != name})
            return retriever.ordered(item.query, rankings)
        finally:
            retriever.tuning = whole

    return order
