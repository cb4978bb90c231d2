"""The same questions by each ranker alone, by fusion, and by the whole: which part earns its place."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from assistant.domain.search import Hit
from assistant.retrieval.fusion import fuse
from assistant.retrieval.retriever import HybridRetriever, Tuning
from eval.calibrate import Seen
from eval.measures import measure, randomisation_p, recall_at

WHOLE = "hybrid, weighed"
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
        WHOLE: lambda item: retriever.ordered(item.query, item.rankings),
    }
    for name in names:
        variants[f"hybrid without {name}"] = _without(retriever, whole, name)
    asked = [item for item in seen if item.case.wanted and item.case.outcome == "answered"]
    found = {title: [[str(h.entry) for h in order(item)] for item in asked] for title, order in variants.items()}
    whole_right = _right(1, found[WHOLE], asked)
    lines = [f"{len(asked)} questions; p: paired randomisation test of R@1 and R@3 against the whole, 10,000 rounds"]
    for title, rankings in found.items():
        one, three = _right(1, rankings, asked), _right(3, rankings, asked)
        first, third = measure("R@1", one), measure("R@3", three)
        p = (
            "  p "
            + " / ".join(
                f"{randomisation_p(a, b):.4f}" for a, b in ((one, whole_right), (three, _right(3, found[WHOLE], asked)))
            )
            if title != WHOLE
            else ""
        )
        lines.append(
            f"  {title:<28} R@1 {first.mean:.3f} [{first.low:.3f}, {first.high:.3f}]"
            f"  R@3 {third.mean:.3f} [{third.low:.3f}, {third.high:.3f}]  R@10 {measure('', _right(10, rankings, asked)).mean:.3f}{p}"
        )
    return lines


def _right(k: int, rankings: Sequence[Sequence[str]], asked: Sequence[Seen]) -> list[float]:
    return [recall_at(k, r, i.case.wanted) for r, i in zip(rankings, asked, strict=True)]


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
