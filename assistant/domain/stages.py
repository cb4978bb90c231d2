"""The whole machine on one page: each stage as a protocol. Engines and their scripted twins implement these."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from assistant.domain.answer import Answer
from assistant.domain.draft import Draft
from assistant.domain.search import Findings, Hit, Query, Sentence
from assistant.domain.turn import Conversation
from assistant.domain.utterance import Utterance

Vectors = NDArray[np.float32]
"""float32 (n_texts, dim), rows of unit length."""


class Encoder(Protocol):
    """Text to vectors."""

    @property
    def name(self) -> str:
        """Name and digest of the model, for the index signature."""

    def encode(self, texts: Sequence[str]) -> Vectors:
        """float32 (len(texts), dim), rows unit-length."""


class Ranker(Protocol):
    """Query to one ranking."""

    @property
    def name(self) -> str:
        """The ranker's short name in tables."""

    def rank(self, query: Query, limit: int) -> tuple[Hit, ...]:
        """Hits best first, ties by entry id."""


class Retriever(Protocol):
    """Query to findings."""

    def search(self, query: Query) -> Findings:
        """Everything found, fused."""


class LanguageModel(Protocol):
    """A small local language model, used only to weigh and to choose authored sentences."""

    @property
    def name(self) -> str:
        """Name of the model file."""

    def likelihoods(self, prefixes: Sequence[str], continuation: str) -> tuple[float, ...]:
        """Mean log-probability of the continuation's tokens after each prefix."""

    def choose(self, prompt: str, grammar: str, max_tokens: int) -> str:
        """Greedy decoding bounded by a GBNF grammar."""


class Composer(Protocol):
    """Question and authored sentences to a draft."""

    @property
    def name(self) -> str:
        """The composer's name in tables."""

    def compose(self, question: str, sentences: Sequence[Sentence]) -> Draft:
        """Sentences chosen and ordered."""


class Pipeline(Protocol):
    """One turn."""

    def turn(self, utterance: Utterance, before: Conversation) -> tuple[Answer, Conversation]:
        """The answer and what it leaves for the next turn."""
