"""Query -> Findings: exact names first, then words and vectors fused, and whether the knowledge covers the question."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from assistant.domain.search import Findings, Hit, Passage, Query
from assistant.domain.stages import Encoder, Vectors
from assistant.domain.terms import EntryId, Kind
from assistant.retrieval.coverage import Coverage, Signs, idf, mass_found
from assistant.retrieval.dense import DenseRanker
from assistant.retrieval.fusion import K, fuse
from assistant.retrieval.lexical import LexicalRanker
from assistant.retrieval.nearness import WishCompass

DEPTH = 50
"""Entries taken from each ranker into the fusion."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tuning:
    """Weights of the rankings in the fusion, and the shares that a name or a wished kind adds in units of 1/(k+1)."""

    weights: Mapping[str, float]
    k: float
    exact: float
    aliased: float
    wish: float


class HybridRetriever:
    """BM25 and vectors over the same entries."""

    def __init__(
        self,
        *,
        entries: Sequence[tuple[EntryId, str, Kind]],
        asked: LexicalRanker,
        told: LexicalRanker,
        dense_asked: DenseRanker,
        dense_told: DenseRanker,
        compass: WishCompass,
        encoder: Encoder,
        coverage: Coverage,
        tuning: Tuning,
        documents: Mapping[EntryId, frozenset[str]],
        clock_ms: Callable[[], float],
    ) -> None:
        """`entries` are (id, pack, kind); `documents` the terms of each entry; `clock_ms` only times the stages."""
        self._pack = {entry: pack for entry, pack, _ in entries}
        self._kind = {entry: kind for entry, _, kind in entries}
        self._rankers = {"asked": asked, "told": told}
        self._dense = {"dense-asked": dense_asked, "dense-told": dense_told}
        self._compass = compass
        self._encoder = encoder
        self._coverage = coverage
        self.tuning = tuning
        self._documents = documents
        self._clock_ms = clock_ms
        counts: dict[str, int] = {}
        for terms in documents.values():
            for term in terms:
                counts[term] = counts.get(term, 0) + 1
        self._idf = {term: idf(len(documents), n) for term, n in counts.items()}
        self._unseen = idf(len(documents), 0)

    def search(self, query: Query) -> Findings:
        """Hits best first (ten at most), coverage, and nearness to what is refused."""
        started = self._clock_ms()
        vector = self._encoder.encode([query.text])
        encoded = self._clock_ms()
        rankings = self.rankings(query, vector)
        hits = self.fused(query, rankings)
        signs = self.signs(query, rankings, hits)
        nearness = self._compass.nearness(vector)
        ended = self._clock_ms()
        return Findings(
            query=query,
            hits=hits[:10],
            covered=self._coverage.chance(signs),
            nearness=nearness,
            elapsed_ms=(("encode", encoded - started), ("rank", ended - encoded)),
        )

    def rankings(self, query: Query, vector: Vectors) -> dict[str, tuple[Hit, ...]]:
        """Each ranker's own list, entries outside the scope left out."""
        found: dict[str, tuple[Hit, ...]] = {}
        for name, ranker in self._rankers.items():
            found[name] = self._scoped(query, ranker.rank(query, 2 * DEPTH))
        for name, dense in self._dense.items():
            found[name] = self._scoped(query, dense.rank_vector(vector, 2 * DEPTH))
        return found

    def _scoped(self, query: Query, hits: Sequence[Hit]) -> tuple[Hit, ...]:
        return tuple(h for h in hits if self.in_scope(query, h.entry))[:DEPTH]

    def in_scope(self, query: Query, entry: EntryId) -> bool:
        """Whether the entry belongs to the pack in scope or to the trade."""
        return query.scope is None or self._pack[entry] in (query.scope, "trade")

    def fused(self, query: Query, rankings: Mapping[str, Sequence[Hit]]) -> tuple[Hit, ...]:
        """Reciprocal rank fusion, and the shares of exact names, aliases and wished kinds on top."""
        tuning = self.tuning
        hits = fuse(rankings, tuning.weights, 2 * DEPTH, tuning.k)
        unit = 1.0 / (tuning.k + 1)
        scores = {h.entry: h for h in hits}
        for entry in (*query.exact, *query.aliased):
            scores.setdefault(entry, Hit(entry=entry, score=0.0))
        result: list[Hit] = []
        for entry, hit in scores.items():
            bonus = 0.0
            if entry in query.exact:
                bonus += tuning.exact
            if entry in query.aliased:
                bonus += tuning.aliased * (2.0 if Kind.COMPONENT in query.wishes else 1.0)
            if query.wishes and self._kind[entry] == query.wishes[0]:
                bonus += tuning.wish
            elif self._kind[entry] in query.wishes:
                bonus += tuning.wish / 2
            result.append(
                Hit(entry=entry, score=hit.score + bonus * unit, ranks=hit.ranks, passage=hit.passage)
            )
        return tuple(sorted(result, key=lambda h: (-h.score, h.entry))[:DEPTH])

    def signs(self, query: Query, rankings: Mapping[str, Sequence[Hit]], hits: Sequence[Hit]) -> Signs:
        """What tells a covered question from one that is not."""
        asked = rankings["dense-asked"]
        told = rankings["dense-told"]
        best = hits[0].entry if hits else None
        text = self._documents.get(best, frozenset()) if best else frozenset()
        terms = query.terms
        known = sum(1 for t in terms if t in self._idf) / len(terms) if terms else 0.0
        fifth = asked[min(4, len(asked) - 1)].score if asked else 0.0
        return Signs(
            asked=asked[0].score if asked else 0.0,
            told=told[0].score if told else 0.0,
            lexical=mass_found(terms, self._idf, self._unseen, text),
            known=known,
            gap=(asked[0].score - fifth) if asked else 0.0,
            named=1.0 if query.exact or query.aliased else 0.0,
        )


DEFAULT_TUNING = Tuning(
    weights={"asked": 1.0, "told": 0.5, "dense-asked": 1.5, "dense-told": 0.5}, k=K, exact=3.0, aliased=0.4, wish=0.3
)


def passage_vectors(encoder: Encoder, passages: Sequence[Passage], known: Mapping[str, Vectors]) -> Vectors:
    """float32 (n, dim): vectors of the passages, those already known taken over, the rest encoded."""
    texts = sorted({p.text for p in passages if p.text not in known})
    fresh = dict(zip(texts, encoder.encode(texts), strict=True)) if texts else {}
    rows = [known[p.text] if p.text in known else fresh[p.text] for p in passages]
    return np.vstack(rows).astype(np.float32) if rows else np.zeros((0, 384), dtype=np.float32)
