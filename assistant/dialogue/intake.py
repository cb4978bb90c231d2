"""Raw text -> Utterance: control characters out, length bounded, what is no text refused."""

from __future__ import annotations

import re
import unicodedata

from assistant.domain.utterance import Heard, Utterance
from assistant.errors import BadQuestion

MOST_CHARACTERS = 10_000
MOST_BROKEN = 0.2
"""Share of characters that are no text; above it the input is taken for binary."""
_ESCAPES = re.compile(r"\x1b(?:\[[0-?]*[ -/]*[@-~]|\][^\x07\x1b]*(?:\x07|\x1b\\)?|[@-_])|\x9b[0-?]*[ -/]*[@-~]")


def clean(raw: str, heard: Heard | None = None) -> Utterance:
    """The text as an utterance, one line, without escapes and control characters.

    Raises:
        BadQuestion: nothing is left, or most of it is no text.

    """
    text = _ESCAPES.sub(" ", raw)
    broken = sum(1 for c in text if _is_broken(c))
    if text and broken > max(3, MOST_BROKEN * len(text)):
        raise BadQuestion("That is not text; it looks like binary data.", "Type the question, or pipe text.")
    text = " ".join("".join(" " if _is_broken(c) else c for c in text).split())
    if not text:
        raise BadQuestion("There was no question.", "Type what you see, hear or want to know.")
    return Utterance(text=text[:MOST_CHARACTERS], heard=heard, cut=len(text) > MOST_CHARACTERS)


def _is_broken(character: str) -> bool:
    if character in "\t\n\r ":
        return False
    return character == "\ufffd" or unicodedata.category(character) in {"Cc", "Cf", "Cs", "Co", "Cn"}
