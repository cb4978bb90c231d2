"""Component -> the entries that mention it in any sentence or list."""

from __future__ import annotations

import re

from assistant.domain.entries import Component, Part, Signal
from assistant.domain.knowledge import KnowledgeBase
from assistant.domain.terms import EntryId
from assistant.retrieval.passages import sentences_of_entry


def mentions_of(knowledge: KnowledgeBase, entry: EntryId) -> tuple[tuple[EntryId, str], ...]:
    """(id, title) of every entry of the same pack that names the component, ordered by id."""
    subject = next((c for c in knowledge.components if c.full_id == entry), None)
    if not isinstance(subject, Component):
        return ()
    word = re.compile(rf"\b{re.escape(subject.id)}\b")
    found = []
    for other in knowledge.entries():
        if other.pack != subject.pack or other.full_id == entry:
            continue
        listed = (*getattr(other, "components", ()), *(other.fits if isinstance(other, Part) else ()))
        own = other.component if isinstance(other, Signal) else ""
        texts = [s.text for s in sentences_of_entry(other)]
        if subject.id in listed or own == subject.id or any(word.search(text) for text in texts):
            found.append((other.full_id, other.title))
    return tuple(found)
