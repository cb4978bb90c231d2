"""Knowledge -> the words that an open recogniser is primed with."""

from __future__ import annotations

import re
from collections import Counter

from assistant.domain.knowledge import KnowledgeBase

MOST_TERMS = 60
EXAMPLES = ("code 204", "FC3", "23.8 V", "0.3 mm")
"""How codes, designations and figures are written; the model writes as it was primed."""
_WORD = re.compile(r"[a-z]{5,}")
"""Shorter words are heard without help, and most of them are everybody's."""


def priming_terms(knowledge: KnowledgeBase, scope: str | None = None) -> tuple[str, ...]:
    """The words that most entries in scope are asked for with, the commonest last but for the examples.

    What comes last stands next to what is heard, and weighs most. Measured against names of components, a sentence, a
    handful of words and nothing: fewest word errors, and by far the fewest in codes (`python -m eval sound`).
    """
    counted: Counter[str] = Counter()
    for entry in knowledge.entries():
        if scope is None or entry.pack in (scope, "trade"):
            counted.update(set(_WORD.findall(" ".join((entry.title, *entry.phrasings)).lower())))
    ranked = sorted(counted, key=lambda word: (-counted[word], word))[: MOST_TERMS - len(EXAMPLES)]
    return (*reversed(ranked), *EXAMPLES)
