"""Vectors of passages in a faiss index -> the nearest passages of a question, gathered by entry."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import faiss
import numpy as np

from assistant.domain.search import Hit, Passage
from assistant.domain.stages import Vectors
from assistant.errors import IndexFailure

WIDTH = 400
"""Nearest passages looked at; an entry has some twenty-five passages, so this shows at least the first sixteen
entries whole."""


class DenseRanker:
    """Exact inner-product search (the vectors are unit-length, so it is the cosine)."""

    def __init__(self, passages: Sequence[Passage], index: faiss.Index) -> None:
        """Keep the passages and the index of their vectors, in the same order."""
        if index.ntotal != len(passages):
            raise IndexFailure(
                f"The vector index holds {index.ntotal} vectors for {len(passages)} passages.", "Run `handlamp index`."
            )
        self._passages = tuple(passages)
        self._index = index

    @property
    def name(self) -> str:
        """The ranker's short name in tables."""
        return "dense"

    def nearest(self, vector: Vectors, width: int = WIDTH) -> tuple[tuple[Passage, float], ...]:
        """The passages nearest to one vector float32 (1, dim), best first, ties by entry and text."""
        count = min(width, len(self._passages))
        if count == 0:
            return ()
        scores, places = self._index.search(vector, count)
        found = [(self._passages[i], float(s)) for s, i in zip(scores[0], places[0], strict=True) if i >= 0]
        return tuple(sorted(found, key=lambda pair: (-pair[1], pair[0].entry, pair[0].text)))

    @staticmethod
    def gather(passages: Sequence[tuple[Passage, float]], limit: int) -> tuple[Hit, ...]:
        """Entries by their nearest passage, best first, ties by id."""
        best: dict[str, Hit] = {}
        for passage, score in passages:
            if passage.entry not in best:
                best[passage.entry] = Hit(entry=passage.entry, score=score, passage=passage.text)
        return tuple(sorted(best.values(), key=lambda h: (-h.score, h.entry))[:limit])


def make_index(vectors: Vectors) -> faiss.Index:
    """A flat inner-product index of float32 (n, dim) unit rows."""
    index = faiss.IndexFlatIP(vectors.shape[1])
    index.add(np.ascontiguousarray(vectors, dtype=np.float32))
    return index


def save_index(index: faiss.Index, path: Path) -> None:
    """Write the index."""
    faiss.write_index(index, str(path))


def load_index(path: Path) -> faiss.Index:
    """Read an index.

    Raises:
        IndexFailure: it is missing or not an index.

    """
    try:
        return faiss.read_index(str(path))
    except RuntimeError as error:
        raise IndexFailure(f"The vector index {path.name} cannot be read.", "Run `handlamp index`.") from error


def stored_vectors(index: faiss.Index) -> Vectors:
    """All vectors of a flat index, float32 (n, dim)."""
    return np.asarray(index.reconstruct_n(0, index.ntotal), dtype=np.float32)
