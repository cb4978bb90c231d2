"""Question -> the chance that it is a wish to be refused: a linear model over its vector, its words and trade concepts.

The concepts (what is done, to what, how the sentence is meant) are authored in wish_concepts.yaml; the weights in
wish_model.json are fitted by `python -m eval calibrate`. The model only weighs; `assistant.rules.refusal` decides.
"""

from __future__ import annotations

import itertools
import json
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import yaml

from assistant.domain.stages import Vectors
from assistant.retrieval.analysis import stem

CONCEPTS = Path(__file__).with_name("wish_concepts.yaml")
WEIGHTS = Path(__file__).with_name("wish_model.json")
CONCEPT_SCALE = 0.3
WORD_SCALE = 1.2
"""Lengths of the concept and word parts beside the unit-length vector (chosen on held-out folds)."""
_SPLIT = re.compile(r"(?<=[.!?;])\s+")


def wish_stems(text: str) -> tuple[str, ...]:
    """Stems in order, function words kept, designations one word."""
    plain = re.sub(r"\b([a-z]{2}) ?(\d)\b", r"\1\2", text.lower().replace("-", " "))
    return tuple(stem(word) for word in re.findall(r"[a-z]+(?:'[a-z]+)?\d*|\d+", plain))


def word_features(text: str) -> frozenset[str]:
    """Stems, pairs and triples of neighbouring stems, and pairs with one stem between them."""
    stems = wish_stems(text)
    triples = list(zip(stems, stems[1:], stems[2:], strict=False))
    return (
        frozenset(stems)
        | frozenset(f"{a}_{b}" for a, b in itertools.pairwise(stems))
        | frozenset(f"{a}_{b}_{c}" for a, b, c in triples)
        | frozenset(f"{a}~{c}" for a, _, c in triples)
    )


class WishConcepts:
    """The authored concepts and frames."""

    def __init__(self, path: Path = CONCEPTS) -> None:
        """Read them."""
        data = yaml.safe_load(path.read_text(encoding="utf-8"))
        self._words = {
            name: tuple(f" {' '.join(wish_stems(str(word)))} " for word in words)
            for name, words in data["concepts"].items()
        }
        self._frames = {name: re.compile(pattern) for name, pattern in data["frames"].items()}

    def found(self, text: str) -> tuple[str, ...]:
        """Names of the concepts and frames in the text, and of each pair of them."""
        stems = f" {' '.join(wish_stems(text))} "
        single = [name for name, words in self._words.items() if any(word in stems for word in words)]
        single += [name for name, frame in self._frames.items() if frame.search(text.lower())]
        return (*single, *(f"{a}+{b}" for a, b in itertools.combinations(single, 2)))


@dataclass(frozen=True, slots=True, kw_only=True)
class WishModel:
    """Weights by part; `threshold` on the chance."""

    intercept: float
    vector: tuple[float, ...]
    concepts: Mapping[str, float]
    words: Mapping[str, float]

    def chance(self, text: str, vector: Vectors, concepts: WishConcepts) -> float:
        """Between 0 and 1; `vector` is float32 (dim,) or (1, dim) of unit length."""
        words = [w for w in word_features(text) if w in self.words]
        length = math.sqrt(len(words)) or 1.0
        z = self.intercept + float(np.dot(vector.reshape(-1).astype(np.float64), np.asarray(self.vector)))
        z += CONCEPT_SCALE * sum(self.concepts.get(name, 0.0) for name in concepts.found(text))
        z += WORD_SCALE * sum(self.words[w] for w in sorted(words)) / length
        return 1.0 / (1.0 + math.exp(-max(-60.0, min(60.0, z))))


def load_wish_model(path: Path = WEIGHTS) -> WishModel:
    """The fitted weights."""
    data = json.loads(path.read_text(encoding="utf-8"))
    return WishModel(
        intercept=data["intercept"], vector=tuple(data["vector"]), concepts=data["concepts"], words=data["words"]
    )


def parts_of(text: str) -> tuple[str, ...]:
    """The whole text and each of its sentences, so that a wish in a long story is not averaged away; twelve at most."""
    sentences = [part for part in _SPLIT.split(text) if len(part.split()) > 2]
    return tuple(dict.fromkeys([text, *sentences]))[:12] if len(sentences) > 1 else (text,)
