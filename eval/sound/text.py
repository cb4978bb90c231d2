"""Text typed or heard -> the words that were said: the one normalisation under which speech is scored.

Figures, codes, designations, units and signs are put into words as the program itself says them (`say_text`), so that
"204" and "two zero four" are the same words; then lower case, no punctuation, British spelling, contractions without
their apostrophe ("don't" and "dont" alike).
"""

from __future__ import annotations

import re

from assistant.recognition.saying import cardinal, say_text

SPELLINGS = {
    "meter": "metre", "meters": "metres", "millimeter": "millimetre", "millimeters": "millimetres", "color": "colour",
    "center": "centre", "liter": "litre", "liters": "litres", "gray": "grey", "okay": "ok", "oh": "zero", "nought": "zero",
}  # fmt: skip
_LETTERS_AND_FIGURE = re.compile(r"\b([A-Za-z])\.?([A-Za-z])\.?[ -]?(\d{1,2})\b")


def said_words(text: str, codes: frozenset[str] = frozenset()) -> tuple[str, ...]:
    """The words of a text, in order."""
    apart = re.sub(r"\b(\d)[,-] ?(?=\d\b)", r"\1 ", text)
    written = _LETTERS_AND_FIGURE.sub(lambda m: f"{m[1].upper()}{m[2].upper()}{m[3]}", apart)
    said = say_text(written, codes).lower().replace("’", "'").replace("'", "")
    said = re.sub(r"\d+", lambda m: f" {cardinal(int(m[0][:9]))} ", said)
    words = re.sub(r"[^\w\s]|_", " ", said).split()
    return tuple(SPELLINGS.get(word, word) for word in words)
