"""Readings of one sound -> what the knowledge makes of them, for the recogniser that has to choose and to listen again."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from assistant.dialogue.critical import critical_in
from assistant.domain.knowledge import KnowledgeBase
from assistant.domain.search import Findings
from assistant.domain.sound import Outlook
from assistant.domain.turn import Conversation
from assistant.domain.utterance import Utterance
from assistant.retrieval.blending import best_first, pooled

NAMED = 6
"""Entries whose wording the recogniser is primed with, the nearest last: what comes last weighs most."""


class KnowledgeOutlook:
    """Looks every reading up; nothing is answered and nothing kept."""

    def __init__(
        self,
        knowledge: KnowledgeBase,
        look: Callable[[Utterance, Conversation], Findings],
        conversation: Callable[[], Conversation],
    ) -> None:
        """`look`: what would be found for an utterance; `conversation`: how it stands now."""
        self._look, self._conversation = look, conversation
        self._names = knowledge.designations
        self._wording = {entry.full_id: (entry.title, *entry.phrasings[:1]) for entry in knowledge.entries()}

    def __call__(self, readings: Sequence[str]) -> Outlook:
        """Chances of being about something authored, a wish to be refused among it, and the words of what was found."""
        before = self._conversation()
        settled = bool(readings) and bool(critical_in(readings[0], self._names, before.pending).parts)
        found = [self._look(Utterance(text=reading), before) for reading in readings if reading.strip()]
        chances = iter(max(findings.covered, findings.unsafe) for findings in found)
        return Outlook(
            chances=tuple(next(chances) if reading.strip() else 0.0 for reading in readings),
            terms=self._terms(found),
            settled=settled,
        )

    def _terms(self, found: Sequence[Findings]) -> tuple[str, ...]:
        nearest = best_first(pooled([(max(f.covered, f.unsafe), f) for f in found]))[:NAMED]
        return tuple(_sentence(text) for entry in reversed(nearest) for text in self._wording.get(entry, ()))


def _sentence(text: str) -> str:
    """Written as the recogniser writes: with a capital and an end."""
    return text[:1].upper() + text[1:] + ("" if text.endswith(("?", ".", "!")) else ".")
