"""Question and what was last spoken of -> the question that stands by itself."""

from __future__ import annotations

import re

from assistant.domain.search import Query
from assistant.domain.turn import Conversation

_POINTING = re.compile(
    r"\b(?:it|its|it's|that|this|them|they|those|these|one|there|he|she)\b(?! (?:is|'s) (?:raining|late))",
    re.IGNORECASE,
)
_OPENING = re.compile(r"^(?:and|but|so|then|also|what about|how about|what if|or)\b", re.IGNORECASE)
MOST_OWN_TERMS = 3
"""A question with more content words of its own stands by itself even if it points ("does it stop when the gate opens")."""


def is_follow_up(text: str, query: Query, before: Conversation) -> bool:
    """Whether the question leans on what was last spoken of."""
    if before.focus is None or query.exact or query.aliased:
        return False
    own = len(set(query.terms))
    if _OPENING.search(text):
        return own <= MOST_OWN_TERMS + 1
    return bool(_POINTING.search(text)) and own <= MOST_OWN_TERMS


def standing_alone(text: str, subject: str) -> str:
    """The question with the subject that it points at."""
    return f"{text} ({subject})"
