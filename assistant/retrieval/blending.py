"""Findings of several readings of one sound -> findings of the sound: hits by the share of readings that find them."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

from assistant.domain.search import Findings, Hit
from assistant.domain.terms import EntryId

SHARPNESS = 3.0
"""Natural log units of weight for one of mean log-probability a token: a sentence has more tokens than three, and they are not
independent."""
MOST_HITS = 10


def blended(main: Findings, others: Sequence[tuple[float, Findings]]) -> Findings:
    """The findings of the main text with the hits of all readings, `others` being (log-probability, findings), main among them.

    A reading weighs by its likelihood and by its chance to be covered. Covered and unsafe are at least those of the main
    text, else the mean of all by likelihood: what is left unsaid by the best reading may be plain in the others.
    """
    if len(others) < 2:
        return main
    top = max(log_probability for log_probability, _ in others)
    weights = [math.exp(SHARPNESS * (log_probability - top)) for log_probability, _ in others]
    whole = sum(weights)
    scores = pooled([(w * findings.covered, findings) for w, (_, findings) in zip(weights, others, strict=True)])
    first: dict[EntryId, Hit] = {}
    for _, findings in others:
        for hit in findings.hits:
            first.setdefault(hit.entry, hit)
    best = max(scores.values(), default=0.0) or 1.0
    ranked = best_first(scores)[:MOST_HITS]
    covered = sum(w * findings.covered for w, (_, findings) in zip(weights, others, strict=True)) / whole
    unsafe = sum(w * findings.unsafe for w, (_, findings) in zip(weights, others, strict=True)) / whole
    nearness = max((findings for _, findings in others), key=lambda f: f.unsafe).nearness
    return replace(
        main,
        hits=tuple(replace(first[entry], score=scores[entry] / best) for entry in ranked),
        covered=max(main.covered, covered),
        unsafe=max(main.unsafe, unsafe),
        nearness=main.nearness if main.unsafe >= unsafe else nearness,
    )


def pooled(weighed: Sequence[tuple[float, Findings]]) -> dict[EntryId, float]:
    """Entry -> the sum over (weight, findings) of its share of their hits' scores, times the weight."""
    scores: dict[EntryId, float] = {}
    for weight, findings in weighed:
        total = sum(hit.score for hit in findings.hits) or 1.0
        for hit in findings.hits:
            scores[hit.entry] = scores.get(hit.entry, 0.0) + weight * hit.score / total
    return scores


def best_first(scores: Mapping[EntryId, float]) -> list[EntryId]:
    """Entries by falling score, equal ones by id."""
    return sorted(scores, key=lambda entry: (-scores[entry], entry))
