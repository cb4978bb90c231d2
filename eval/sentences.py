"""Graded sentences -> how well the sentences of whole answers answer: precision, recall, and the first one told."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import yaml

from assistant.domain.knowledge import KnowledgeBase
from assistant.retrieval.passages import sentences_of_entry
from eval.cases import ROOT, EvalCase
from eval.measures import Measure, measure
from eval.observation import Observer

GRADED = ROOT / "sentences" / "graded.yaml"


@dataclass(frozen=True, slots=True, kw_only=True)
class Graded:
    """A question, the entry it was graded for, and sentence -> grade (2 answers it, 1 is useful beside)."""

    q: str
    entry: str
    answers: Mapping[str, int]

    @property
    def wanted(self) -> frozenset[str]:
        """Sentences that answer."""
        return frozenset(text for text, grade in self.answers.items() if grade == 2)


@dataclass(frozen=True, slots=True, kw_only=True)
class SentenceScore:
    """Of one answer: graded share of what was told, told share of what answers, and whether the first sentence answers."""

    question: str
    precision: float
    recall: float
    first: float


def read_graded(path: Path = GRADED) -> tuple[Graded, ...]:
    """All graded questions that an authored sentence answers."""
    data = yaml.safe_load(path.read_text(encoding="utf-8"))
    graded = [Graded(q=item["q"], entry=item["entry"], answers=item["answers"]) for item in data]
    return tuple(item for item in graded if item.wanted)


def score(told: Sequence[str], graded: Graded, authored: frozenset[str]) -> SentenceScore:
    """Of the authored sentences told, in their order."""
    sentences = [text for text in told if text in authored]
    good = [text for text in sentences if text in graded.answers]
    return SentenceScore(
        question=graded.q,
        precision=len(good) / len(sentences) if sentences else 0.0,
        recall=len(graded.wanted & set(sentences)) / len(graded.wanted),
        first=float(bool(sentences) and sentences[0] in graded.wanted),
    )


def score_answers(observer: Observer, knowledge: KnowledgeBase, tick: Callable[[], None]) -> tuple[SentenceScore, ...]:
    """Every graded question asked of the whole assistant."""
    authored = frozenset(s.text for entry in knowledge.entries() for s in sentences_of_entry(entry))
    scores = []
    for graded in read_graded():
        told = observer.observe(EvalCase(q=graded.q, outcome="answered")).told
        scores.append(score(told, graded, authored))
        tick()
    return tuple(scores)


def summary(scores: Sequence[SentenceScore], seed: int = 0) -> list[Measure]:
    """The three means."""
    return [
        measure("answer-sentence precision", [s.precision for s in scores], seed),
        measure("answer-sentence recall", [s.recall for s in scores], seed),
        measure("first sentence answers", [s.first for s in scores], seed),
    ]
