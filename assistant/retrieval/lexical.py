"""BM25 over entries, one document an entry: all that it is asked by and all that it says."""

from __future__ import annotations

from collections.abc import Sequence

import bm25s
import numpy as np
from numpy.typing import NDArray

from assistant.domain.search import Hit, Query
from assistant.domain.terms import EntryId

K1 = 1.2
B = 0.6
"""Milder length normalisation than the usual 0.75: a long entry is here a thorough one, not a vague one (measured on the
development questions, `python -m eval ablation`)."""


class LexicalRanker:
    """BM25 (Lucene's form) by bm25s; scores of all entries are computed, so that the order is total."""

    def __init__(self, entries: Sequence[EntryId], documents: Sequence[Sequence[str]], name: str = "bm25") -> None:
        """Index documents of stemmed terms, one for each entry."""
        self._entries = tuple(entries)
        self._name = name
        self._index = bm25s.BM25(method="lucene", k1=K1, b=B)
        self._vocabulary: frozenset[str] = frozenset(term for document in documents for term in document)
        if self._vocabulary:
            self._index.index([list(document) for document in documents], show_progress=False)

    @property
    def name(self) -> str:
        """The ranker's short name in tables."""
        return self._name

    @property
    def vocabulary(self) -> frozenset[str]:
        """Every term of every document."""
        return self._vocabulary

    def scores(self, terms: Sequence[str]) -> NDArray[np.float32]:
        """float32 (n_entries,), the BM25 score of every entry in the order given."""
        known = [term for term in terms if term in self._vocabulary]
        if not known:
            return np.zeros(len(self._entries), dtype=np.float32)
        return np.asarray(self._index.get_scores(known), dtype=np.float32)

    def rank(self, query: Query, limit: int) -> tuple[Hit, ...]:
        """Entries with a score above zero, best first, ties by id."""
        scores = self.scores(query.terms)
        found = np.flatnonzero(scores > 0)
        order = sorted(found.tolist(), key=lambda i: (-float(scores[i]), self._entries[i]))[:limit]
        return tuple(Hit(entry=self._entries[i], score=float(scores[i])) for i in order)
