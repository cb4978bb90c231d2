"""Question, hits and named things -> the safety messages to show, verbatim, most severe first."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from assistant.domain.answer import SafetyWarning
from assistant.domain.knowledge import KnowledgeBase
from assistant.domain.safety import SafetyMessage
from assistant.domain.search import Findings
from assistant.domain.terms import EntryId, Hazard
from assistant.retrieval.analysis import stem, words_of

NEAR_SHARE = 0.3
"""A second or third hit lends its hazards only if the ranking gives it at least this share of the first one's chance
(measured: 0.6 missed three of 169 required warnings, 0.3 one, for 0.2 more warnings an answer)."""
NEARLY = 0.1
"""A question that the knowledge just fails to cover still gets the hazards of its nearest entry."""
TOP = 3


def stems_of(text: str) -> str:
    """The text as stems between spaces, function words kept, so that a phrase can be looked for."""
    plain = re.sub(r"(?<=[a-z])-(?=[a-z])", " ", text.lower())
    return f" {' '.join(stem(word) for word in words_of(plain))} "


class SafetyChooser:
    """Knows the messages and the words that raise each hazard."""

    def __init__(self, knowledge: KnowledgeBase) -> None:
        """Stem the words once."""
        self._messages = knowledge.messages
        self._words = tuple((item.id, tuple(stems_of(word) for word in item.words)) for item in knowledge.hazard_words)
        self._applies = {
            message.id: tuple(stems_of(word) for word in message.applies)
            for message in knowledge.messages
            if isinstance(message.applies, tuple)
        }
        fits = {part.full_id: part.fits for part in knowledge.parts}
        by_name = {(c.pack, c.id): c.hazards for c in knowledge.components}
        self._hazards: dict[EntryId, tuple[Hazard, ...]] = {}
        for entry in knowledge.entries():
            own = getattr(entry, "hazards", ())
            if entry.full_id in fits:
                own = tuple(h for name in fits[entry.full_id] for h in by_name.get((entry.pack, name), ()))
            self._hazards[entry.full_id] = tuple(dict.fromkeys(own))

    def hazards_of(self, entry: EntryId) -> tuple[Hazard, ...]:
        """The hazards of an entry; a part has those of the components that it fits."""
        return self._hazards.get(entry, ())

    def from_words(self, text: str) -> tuple[Hazard, ...]:
        """Hazards that the person's own words raise."""
        stems = stems_of(text)
        return tuple(hazard for hazard, words in self._words if any(word in stems for word in words))

    def hazards(self, text: str, findings: Findings | None, shown: Sequence[EntryId]) -> tuple[Hazard, ...]:
        """From the words, from everything named, from what is shown, and from hits nearly as good as the first."""
        found: dict[Hazard, None] = dict.fromkeys(self.from_words(text))
        sources: list[EntryId] = list(shown)
        if findings is not None:
            sources += findings.query.exact + findings.query.aliased
            if findings.hits and (shown or findings.covered >= NEARLY):
                first = findings.hits[0].score
                sources.append(findings.hits[0].entry)
                sources += [h.entry for h in findings.hits[1:TOP] if first > 0 and h.score >= NEAR_SHARE * first]
        for entry in sources:
            found.update(dict.fromkeys(self._hazards.get(entry, ())))
        return tuple(found)

    def warnings(self, hazards: Iterable[Hazard], text: str) -> tuple[SafetyWarning, ...]:
        """For each hazard its narrower message if the text calls for it, else its general one; by severity."""
        stems = stems_of(text)
        chosen = {self._message(hazard, stems) for hazard in dict.fromkeys(hazards)} - {None}
        ordered = sorted((m for m in chosen if m is not None), key=lambda m: m.severity)
        return tuple(
            SafetyWarning(id=m.id, signal_word=m.signal_word, hazard=m.hazard, text=" ".join(m.text)) for m in ordered
        )

    def _message(self, hazard: Hazard, stems: str) -> SafetyMessage | None:
        of_hazard = [m for m in self._messages if m.hazard is hazard]
        for message in of_hazard:
            if any(word in stems for word in self._applies.get(message.id, ())):
                return message
        return next((m for m in of_hazard if m.general), of_hazard[0] if of_hazard else None)
