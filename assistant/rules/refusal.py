"""Question, its nearness to refused wishes and the authored patterns -> the refusal that applies, or none."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from assistant.domain.entries import Refusal
from assistant.domain.knowledge import KnowledgeBase
from assistant.domain.search import Findings
from assistant.domain.terms import EntryId
from assistant.rules.safety import stems_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """The refusal that applies and what spoke for it."""

    refusal: Refusal
    by: str


class RefusalJudge:
    """Refuses on a likely wish, and on an authored pattern unless the sentence is plainly an inquiry."""

    def __init__(self, knowledge: KnowledgeBase, threshold: float, pattern_threshold: float) -> None:
        """Chances from 0 to 1: above `threshold` alone, above `pattern_threshold` together with a pattern."""
        self._refusals: Mapping[EntryId, Refusal] = {r.full_id: r for r in knowledge.refusals}
        self.unsafe_threshold = threshold
        self._pattern_threshold = pattern_threshold
        self._patterns = tuple(
            (refusal.full_id, tuple(tuple(_stem_group(group)) for group in pattern.values()))
            for refusal in knowledge.refusals
            for pattern in refusal.patterns
        )

    def matched(self, text: str) -> tuple[EntryId, ...]:
        """The refusals of which a pattern holds: every group has a word in the text."""
        stems = stems_of(text)
        found = dict.fromkeys(
            entry for entry, groups in self._patterns if all(any(word in stems for word in group) for group in groups)
        )
        return tuple(found)

    def judge(self, text: str, findings: Findings) -> Verdict | None:
        """The refusal of this question, or None."""
        matched = self.matched(text)
        chance = findings.unsafe
        if chance >= self.unsafe_threshold or (matched and chance >= self._pattern_threshold):
            chosen = self._which(matched, findings)
            if chosen is not None:
                return Verdict(refusal=self._refusals[chosen], by="pattern" if matched else "wish")
        return None

    def _which(self, matched: tuple[EntryId, ...], findings: Findings) -> EntryId | None:
        ranked = [n.refusal for n in findings.nearness if n.refusal in self._refusals]
        for entry in ranked:
            if entry in matched:
                return entry
        return ranked[0] if ranked else (matched[0] if matched else None)


def _stem_group(group: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(stems_of(re.sub(r"[^\w\s'-]", " ", str(word))) for word in group)
