"""Phrasings of different entries that the encoder can hardly tell apart, from the vectors of the search index."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from assistant.domain.search import Passage
from assistant.domain.stages import Vectors
from assistant.retrieval.nearness import UNSAFE
from assistant.retrieval.passages import ASKED
from assistant.retrieval.store import Built
from eval.observation import Observed
from eval.quality import findable
from eval.tables import Table

TOO_ALIKE = 0.75
"""Cosine from which two phrasings of different entries are reported.

Read off `likeness_table` on 1513 cases: among pairs of entries whose nearest phrasings lie at 0.55 to 0.65 the other entry
came first in 2 of 1000 questions, at 0.65 to 0.75 in 8, from 0.75 up in 24 to 33 and hardly rising. It is a rare height
besides: of the pairs of phrasings inside one entry, which are meant to ask for the same, 2 in 10 000 reach it.
"""
BUCKETS = (0.3, 0.4, 0.5, 0.55, 0.6, 0.65, 0.7, 0.75, 0.8, 0.85, 1.01)
TRADE = "trade"


@dataclass(frozen=True, slots=True, kw_only=True)
class Alike:
    """Two entries, their nearest phrasings with the cosine of those, and how many pairs of phrasings are too alike."""

    one: str
    other: str
    text: str
    other_text: str
    cosine: float
    pairs: int


def may_meet(one: str, other: str) -> bool:
    """Whether a question can lead to either: not for entries of two machines, which are meant to be twins."""
    packs = one.split("/")[0], other.split("/")[0]
    return one != other and (packs[0] == packs[1] or TRADE in packs)


def spoken_phrasings(built: Built) -> tuple[tuple[Passage, ...], Vectors]:
    """The phrasings of all entries, refusals' wishes among them, with float32 (n, dim) unit vectors, as indexed."""
    asked = [i for i, passage in enumerate(built.texts.asked) if passage.section == ASKED]
    wishes = [i for i, passage in enumerate(built.texts.wishes) if passage.section == UNSAFE]
    passages = (*(built.texts.asked[i] for i in asked), *(built.texts.wishes[i] for i in wishes))
    return passages, np.concatenate([built.vectors["asked"][asked], built.vectors["wishes"][wishes]])


def near_pairs(passages: Sequence[Passage], vectors: Vectors, least: float) -> Iterator[tuple[int, int, float]]:
    """Places of every two phrasings of entries that may meet, with a cosine of at least that."""
    for i, row in enumerate(vectors):
        cosines = vectors[i + 1 :] @ row
        for offset in np.nonzero(cosines >= least)[0]:
            j = i + 1 + int(offset)
            if may_meet(passages[i].entry, passages[j].entry):
                yield i, j, float(cosines[offset])


def too_alike(passages: Sequence[Passage], vectors: Vectors, least: float = TOO_ALIKE) -> tuple[Alike, ...]:
    """One finding for two entries, nearest first."""
    best: dict[tuple[str, str], tuple[float, str, str]] = {}
    counts: Counter[tuple[str, str]] = Counter()
    for i, j, cosine in near_pairs(passages, vectors, least):
        one, other = sorted((passages[i], passages[j]), key=lambda p: (p.entry, p.text))
        key = (str(one.entry), str(other.entry))
        counts[key] += 1
        best[key] = max(best.get(key, (-1.0, "", "")), (round(cosine, 4), one.text, other.text))
    found = [
        Alike(one=one, other=other, text=text, other_text=other_text, cosine=cosine, pairs=counts[one, other])
        for (one, other), (cosine, text, other_text) in best.items()
    ]
    return tuple(sorted(found, key=lambda a: (-a.cosine, a.one, a.other)))


def alike_table(found: Sequence[Alike]) -> Table:
    """Two entries a row."""
    return Table(
        title="Phrasings too alike",
        note=f"The nearest phrasings of two entries at a cosine of {TOO_ALIKE} and more; reword one so that each has a word of its own.",
        header=("cosine", "pairs", "entries", "phrasings"),
        rows=tuple(
            (f"{a.cosine:.3f}", str(a.pairs), f"{a.one} | {a.other}", f"{a.text} | {a.other_text}") for a in found
        ),
    )


def likeness_table(passages: Sequence[Passage], vectors: Vectors, seen: Sequence[Observed]) -> Table:
    """How often the other entry comes first, by the cosine of the two entries' nearest phrasings; sets the threshold."""
    nearest: Mapping[tuple[str, str], float] = _nearest(passages, vectors)
    asked: Counter[str] = Counter()
    confused: Counter[tuple[str, str]] = Counter()
    for item in findable(seen):
        asked.update(item.case.wanted)
        if item.ranking and item.ranking[0] not in item.case.wanted:
            confused.update((wanted, item.ranking[0]) for wanted in item.case.wanted)
    rows = []
    for low, high in zip(BUCKETS, BUCKETS[1:], strict=False):
        pairs = [pair for pair, cosine in nearest.items() if low <= cosine < high and asked[pair[0]]]
        chances, times = sum(asked[wanted] for wanted, _ in pairs), sum(confused[pair] for pair in pairs)
        rate = 1000.0 * times / chances if chances else 0.0
        rows.append((f"{low:.2f}", str(len(pairs)), str(chances), str(times), f"{rate:.1f}"))
    return Table(
        title="Confusion by likeness",
        note="For two entries by the cosine of their nearest phrasings: how often, in 1000 questions for one, the other came first.",
        header=("cosine from", "pairs", "questions", "confused", "in 1000"),
        rows=tuple(rows),
    )


def _nearest(passages: Sequence[Passage], vectors: Vectors) -> dict[tuple[str, str], float]:
    nearest: defaultdict[tuple[str, str], float] = defaultdict(float)
    for i, j, cosine in near_pairs(passages, vectors, BUCKETS[0]):
        one, other = str(passages[i].entry), str(passages[j].entry)
        for pair in ((one, other), (other, one)):
            nearest[pair] = max(nearest[pair], cosine)
    return dict(nearest)
