"""What composition proposes: authored sentences chosen, and at most one lead of the model's own."""

from __future__ import annotations

from dataclasses import dataclass

from assistant.domain.search import Sentence


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """Sentences in the order proposed; `lead` is model text (or empty), `links` come from a closed set."""

    sentences: tuple[Sentence, ...]
    lead: str = ""
    composer: str = "passage"
    note: str = ""
