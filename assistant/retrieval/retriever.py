"""Query -> Findings: exact names first, words and vectors fused and weighed, and whether the knowledge covers it."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from assistant.domain.likelihood import logit
from assistant.domain.search import Findings, Hit, Nearness, Passage, Query
from assistant.domain.stages import Encoder, Ranker, Vectors
from assistant.domain.terms import EntryId, Kind
from assistant.retrieval.coverage import Coverage, Signs, Topic, idf, mass_found
from assistant.retrieval.dense import DenseRanker
from assistant.retrieval.fusion import fuse
from assistant.retrieval.nearness import WishCompass
from assistant.retrieval.reranking import FIRST, Evidence, rerank
from assistant.retrieval.whitening import Closeness, Whitening
from assistant.retrieval.wishes import WishConcepts, WishModel, parts_of

DEPTH = 60
"""Entries taken from each ranker into the fusion, and candidates that are weighed."""
CODE_SCORE = 20.0
"""Score shown for an entry of a named code: above any weighed one, and finite."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tuning:
    """Weights of the rankings in the fusion with its k, and of the features in the final order (empty: fusion alone).

    `margin` weighs how much nearer a question is to what is refused than to what is asked.
    """

    fusion: Mapping[str, float]
    k: float
    ranking: Mapping[str, float]
    margin: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Rankings:
    """The question's vector, each ranker's list, and what each says of every entry found."""

    vector: Vectors
    lists: Mapping[str, tuple[Hit, ...]]
    evidence: Mapping[EntryId, Evidence]


class HybridRetriever:
    """BM25 and vectors over the same entries."""

    def __init__(
        self,
        *,
        entries: Sequence[tuple[EntryId, str, Kind]],
        lexical: Mapping[str, Ranker],
        dense: Mapping[str, DenseRanker],
        whitening: Callable[[], Whitening],
        compass: WishCompass,
        wishes: WishModel,
        encoder: Encoder,
        coverage: Coverage,
        topic: Topic,
        tuning: Tuning,
        documents: Mapping[EntryId, frozenset[str]],
        clock_ms: Callable[[], float],
    ) -> None:
        """`entries` are (id, pack, kind); `documents` the terms of each entry; `clock_ms` only times the stages.

        `whitening` is made at the first search: a code or a component is shown without it.
        """
        self._pack = {entry: pack for entry, pack, _ in entries}
        self.kinds = {entry: kind for entry, _, kind in entries}
        self._ids = tuple(entry for entry, _, _ in entries)
        self.lexical = lexical
        self._dense = dense
        self._make_whitening = whitening
        self._compass = compass
        self._wishes = wishes
        self._concepts = WishConcepts()
        self._encoder = encoder
        self.coverage = coverage
        self.topic = topic
        self.tuning = tuning
        self._documents = documents
        self._clock_ms = clock_ms
        counts: dict[str, int] = {}
        for terms in documents.values():
            for term in terms:
                counts[term] = counts.get(term, 0) + 1
        self._idf = {term: idf(len(documents), n) for term, n in counts.items()}
        self._unseen = idf(len(documents), 0)

    @cached_property
    def _whitening(self) -> Whitening:
        return self._make_whitening()

    def search(self, query: Query) -> Findings:
        """Hits best first (ten at most), coverage, and nearness to what is refused."""
        started = self._clock_ms()
        parts = parts_of(query.text)
        vectors = self._encoder.encode(parts)
        encoded = self._clock_ms()
        rankings = self.rankings(query, vectors[:1])
        hits = self.ordered(query, rankings)
        signs = self.signs(query, rankings, hits)
        ranked = self._clock_ms()
        chances = [self._wishes.chance(p, v, self._concepts) for p, v in zip(parts, vectors, strict=True)]
        worst = max(range(len(parts)), key=lambda i: (chances[i], -i))
        nearness = self._compass.nearness(vectors[worst : worst + 1])
        unsafe = chances[worst]
        if nearness:
            unsafe = leaning(unsafe, self.margin(vectors[worst : worst + 1], nearness[0].unsafe), self.tuning.margin)
        return Findings(
            query=query,
            hits=hits[:10],
            covered=self.coverage.chance(signs),
            unsafe=unsafe,
            nearness=nearness,
            elapsed_ms=(
                ("encode", encoded - started),
                ("rank", ranked - encoded),
                ("wishes", self._clock_ms() - ranked),
            ),
        )

    def margin(self, vector: Vectors, wish: float) -> float:
        """How much nearer a text (float32 (1, dim)) is to what is refused (mean cosine) than to what is asked of any entry."""
        nearest = self._dense["asked"].nearest(vector, 1)
        return wish - (nearest[0][1] if nearest else 0.0)

    def nearness(self, vector: Vectors) -> tuple[Nearness, ...]:
        """The refusals nearest to one text, float32 (1, dim), nearest first."""
        return self._compass.nearness(vector)

    def encoded(self, text: str) -> Vectors:
        """float32 (1, dim), the vector of one text."""
        return self._encoder.encode([text])

    def rankings(self, query: Query, vector: Vectors) -> Rankings:
        """Each ranker's own list and evidence, entries outside the scope left out."""
        lists: dict[str, tuple[Hit, ...]] = {}
        bm25: dict[str, dict[EntryId, float]] = {}
        for name, ranker in self.lexical.items():
            ranked = ranker.rank(query, 3 * DEPTH)
            bm25[name] = {hit.entry: hit.score for hit in ranked}
            lists[name] = self._scoped(query, ranked)
        near: dict[str, dict[EntryId, list[float]]] = {}
        for name, dense in self._dense.items():
            passages = dense.nearest(vector)
            near[name] = {}
            for passage, score in passages:
                near[name].setdefault(passage.entry, []).append(score)
            lists[f"dense-{name}"] = self._scoped(query, dense.gather(passages, 3 * DEPTH))
        return Rankings(vector=vector, lists=lists, evidence=self._evidence(lists, bm25, near, vector))

    def _evidence(
        self,
        lists: Mapping[str, tuple[Hit, ...]],
        bm25: Mapping[str, Mapping[EntryId, float]],
        near: Mapping[str, Mapping[EntryId, list[float]]],
        vector: Vectors,
    ) -> dict[EntryId, Evidence]:
        ranks: dict[EntryId, list[tuple[str, int]]] = {}
        for name in sorted(lists):
            for rank, hit in enumerate(lists[name], start=1):
                ranks.setdefault(hit.entry, []).append((name, rank))
        tops = {name: max(scores.values(), default=0.0) or 1.0 for name, scores in bm25.items()}
        top_cosine = max((scores[0] for scores in near["asked"].values()), default=1.0)
        whitened = self._whitening.of(vector)
        found: dict[EntryId, Evidence] = {}
        for entry, places in ranks.items():
            asked = near["asked"].get(entry, [])[:3]
            told = near["told"].get(entry, [])[:1]
            found[entry] = Evidence(
                asked_cosine=asked[0] if asked else 0.0,
                asked_mean=sum(asked) / len(asked) if asked else 0.0,
                top_cosine=top_cosine,
                told_cosine=told[0] if told else 0.0,
                asked_bm25=bm25["asked"].get(entry, 0.0),
                told_bm25=bm25["told"].get(entry, 0.0),
                asked_bm25_share=bm25["asked"].get(entry, 0.0) / tops["asked"],
                told_bm25_share=bm25["told"].get(entry, 0.0) / tops["told"],
                whitened=whitened.get(entry, Closeness()),
                ranks=tuple(places),
            )
        return found

    def _scoped(self, query: Query, hits: Sequence[Hit]) -> tuple[Hit, ...]:
        return tuple(h for h in hits if self.in_scope(query, h.entry))[:DEPTH]

    def in_scope(self, query: Query, entry: EntryId) -> bool:
        """Whether the entry belongs to the pack in scope or to the trade."""
        return query.scope is None or self._pack[entry] in (query.scope, "trade")

    def candidates(self, query: Query, rankings: Rankings) -> tuple[Hit, ...]:
        """Reciprocal rank fusion of all lists, and whatever is named exactly."""
        hits = fuse(rankings.lists, self.tuning.fusion, DEPTH, self.tuning.k)
        have = {hit.entry for hit in hits}
        named = [e for e in dict.fromkeys((*query.exact, *query.aliased)) if e not in have and self.in_scope(query, e)]
        return (*hits, *(Hit(entry=entry, score=0.0) for entry in named))

    def ordered(self, query: Query, rankings: Rankings) -> tuple[Hit, ...]:
        """The candidates in their final order; scores are positive and shrink by a factor a step of evidence."""
        hits = self.candidates(query, rankings)
        if not self.tuning.ranking:
            return hits
        ranked = rerank(query, hits, self.kinds, rankings.evidence, self.tuning.ranking)
        weighed = [hit.score for hit in ranked if hit.score < FIRST / 2]
        top = max(weighed, default=0.0)
        return tuple(
            Hit(
                entry=hit.entry,
                score=CODE_SCORE if hit.score >= FIRST / 2 else math.exp(hit.score - top),
                ranks=hit.ranks,
                passage=hit.passage,
            )
            for hit in ranked
        )

    def signs(self, query: Query, rankings: Rankings, hits: Sequence[Hit]) -> Signs:
        """What tells a covered question from one that is not."""
        asked = rankings.lists["dense-asked"]
        told = rankings.lists["dense-told"]
        text = self._documents.get(hits[0].entry, frozenset()) if hits else frozenset()
        terms = query.terms
        best = rankings.evidence.get(hits[0].entry, Evidence()) if hits else Evidence()
        return Signs(
            asked=asked[0].score if asked else 0.0,
            told=told[0].score if told else 0.0,
            lexical=mass_found(terms, self._idf, self._unseen, text),
            known=sum(1 for t in terms if t in self._idf) / len(terms) if terms else 0.0,
            mean=best.asked_mean,
            bm25=math.log1p(best.asked_bm25),
            named=1.0 if query.exact or query.aliased else 0.0,
            topic=self.topic.of(rankings.vector),
            centre=best.whitened.centre,
            near=best.whitened.best,
        )


def leaning(chance: float, margin: float, weight: float) -> float:
    """The chance moved by weight times margin on the logistic scale: a plain complaint leans away from a refusal."""
    return 1.0 / (1.0 + math.exp(-(logit(chance) + weight * margin)))


def passage_vectors(encoder: Encoder, passages: Sequence[Passage], known: Mapping[str, Vectors]) -> Vectors:
    """float32 (n, dim): vectors of the passages, those already known taken over, the rest encoded."""
    texts = sorted({p.text for p in passages if p.text not in known})
    fresh = dict(zip(texts, encoder.encode(texts), strict=True)) if texts else {}
    rows = [known[p.text] if p.text in known else fresh[p.text] for p in passages]
    return np.vstack(rows).astype(np.float32) if rows else np.zeros((0, 384), dtype=np.float32)
