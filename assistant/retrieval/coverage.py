"""Findings of the rankers -> the chance that the knowledge covers the question (logistic, coefficients as data)."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from assistant.domain.stages import Vectors


@dataclass(frozen=True, slots=True, kw_only=True)
class Signs:
    """What tells a covered question from one that is not.

    `asked` and `told`: cosine of the nearest phrasing and of the nearest section; `lexical`: share of the question's
    inverse-document-frequency mass found in the best entry's text; `known`: share of its content words that the
    knowledge has at all; `mean` and `bm25`: of the best entry, the mean of its three nearest phrasings and the
    logarithm of its BM25 score; `named`: 1 if a code, a designation or
    a component's name is in it; `topic`: how much it sounds like the knowledge's subjects; `centre` and `near`: how close
    the best entry's centre and best phrasing are in the whitened space.
    """

    asked: float
    told: float
    lexical: float
    known: float
    mean: float
    bm25: float
    named: float
    topic: float
    centre: float = 0.0
    near: float = 0.0

    def row(self) -> tuple[float, ...]:
        """The features in the fixed order of FEATURES."""
        product = self.asked * self.known
        return (
            self.asked, self.told, self.lexical, self.known, self.mean, self.bm25, self.named, product,
            self.centre, self.near, self.topic,
        )  # fmt: skip


FEATURES = ("asked", "told", "lexical", "known", "mean", "bm25", "named", "asked*known", "centre", "near", "topic")


@dataclass(frozen=True, slots=True, kw_only=True)
class Topic:
    """A direction in vector space: from questions that nothing here answers to what the knowledge is asked by."""

    intercept: float
    vector: tuple[float, ...]

    def of(self, vector: Vectors) -> float:
        """Above zero when the question sounds like the knowledge's subjects; vector float32 (1, dim) or (dim,)."""
        return self.intercept + float(np.dot(vector.reshape(-1).astype(np.float64), np.asarray(self.vector)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Coverage:
    """A logistic model: intercept, one weight a feature, and the chance below which nothing is claimed."""

    intercept: float
    weights: tuple[float, ...]
    threshold: float

    def chance(self, signs: Signs) -> float:
        """Between 0 and 1."""
        z = self.intercept + sum(w * x for w, x in zip(self.weights, signs.row(), strict=True))
        return 1.0 / (1.0 + math.exp(-max(-60.0, min(60.0, z))))


def idf(document_count: int, documents_with: int) -> float:
    """Inverse document frequency, never negative (Lucene's BM25 form)."""
    return math.log(1.0 + (document_count - documents_with + 0.5) / (documents_with + 0.5))


def mass_found(terms: Sequence[str], weights: Mapping[str, float], unseen: float, text: frozenset[str]) -> float:
    """Share of the terms' weight that stands in the text; terms nowhere in the knowledge weigh `unseen`."""
    total = sum(weights.get(term, unseen) for term in terms)
    if total <= 0:
        return 0.0
    return sum(weights.get(term, unseen) for term in terms if term in text) / total
