"""Words of a technician about the panel -> the codes that it shows, that a code is gone, or that it shows none."""

from __future__ import annotations

import re
from dataclasses import dataclass

from assistant.dialogue.replies import QUESTION_WORDS
from assistant.recognition.numbers import DIGITS
from assistant.recognition.spoken_forms import NAMING_WORDS, codes_in

_QUESTION = re.compile(rf"\?\s*$|^(?:(?:and|but|so|ok(?:ay)?)[ ,]+)*(?:{QUESTION_WORDS}|would|tell me|explain|if)\b")
"""A question about a code, and a code that is only supposed, is told and not counted."""
_NOT_NOW = re.compile(
    r"\b(?:yesterday|last (?:week|month|time|year|night|shift)|earlier|before that|the day before|used to|sometimes|once"
    r"|if|would|ago|other machine)\b"
)
"""What was shown at another time may be of another fault."""
_NOT = re.compile(r"\b(?:not|no|never|without|isnt|doesnt|dont|neither|nor)\b|n't\b")
_CLAUSE = re.compile(r"[,.;]\s|\b(?:and|but|so)\b")
"""A negation speaks of its own part: "it never finds home, the panel says 202"."""
_PANEL = r"(?:the |my )?(?:panel|display|screen|readout)"
_START = r"^(?:(?:and|now|no|right|ok(?:ay)?)[ ,]+)*"
_END = r"(?: (?:now|again|any ?more|at all|any longer|there))*[ .!]*$"
_NONE = re.compile(
    rf"{_START}(?:"
    rf"(?:{_PANEL}|it)(?: still)? (?:shows?|says?|has|gives?|displays?) (?:no (?:codes?|number|message))"
    r"|(?:there(?:'s| is| are)|(?:i|we) (?:see|have|get|got)) no codes?"
    r"|no codes?"
    rf")(?: (?:shown|showing|standing|to see))?(?: (?:on|in) {_PANEL})?{_END}"
)
_GONE = re.compile(
    r"\b(?:gone|disappeared|vanished|cleared|went away|no longer (?:there|shown|showing|shows)"
    r"|off the (?:panel|display|screen))\b|(?:\bnot|n't) (?:there|shown|showing|show)\b"
)
_NOT_GONE = re.compile(
    r"\b(?:not|n't|never|ever|until|when|once|before) (?:be |been )?(?:gone|cleared)\b"
    r"|\b(?:i|we|he|she|they|you)\b|\bback\b"
)
"""Not yet, and somebody's doing: a code that was pressed away was there all the same."""
_CODE_WORD = re.compile(r"\b(?:code|number|message)\b")
_WORD = re.compile(r"[a-z]+|[0-9]+")
_NUMBER_WORDS = NAMING_WORDS | frozenset(DIGITS) | {"hundred", "and", "number"}
MOST_WORDS = 9
"""A longer sentence with a code and a word such as gone in it may speak of anything."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sighting:
    """What is said of the panel: codes that stand on it, a code that is `gone` (any, or those named), or that it shows `none`."""

    codes: tuple[str, ...] = ()
    gone: bool = False
    none: bool = False


def sighting_of(text: str, *, reading: bool = False, alone: bool = False) -> Sighting | None:
    """The sighting, or None for anything else.

    `reading`: a figure is asked for, so that "it shows 204" may be what the meter shows; then a code must be called one.
    `alone`: a number by itself is meant as a code, as where a correction or the beginning of a hunt names it.
    """
    plain = " ".join(text.lower().replace("’", "'").split())
    if _NONE.match(plain):
        return Sighting(none=True)
    asked = _QUESTION.search(plain) is not None
    if not asked and not _NOT_NOW.search(plain) and _gone(plain):
        return Sighting(gone=True, codes=tuple(mention.digits for mention in codes_in(plain)))
    said = [clause for clause in _CLAUSE.split(plain) if not (asked or _NOT_NOW.search(clause) or _NOT.search(clause))]
    mentions = [mention for clause in said for mention in codes_in(clause)]
    named = [m.digits for m in mentions if m.certain or (m.named and not reading) or (m.alone and alone)]
    return Sighting(codes=tuple(dict.fromkeys(named))) if named else None


def codes_told(text: str) -> tuple[str, ...]:
    """Codes that are said to stand on the panel; a code by itself ("code 204") may only be looked up, and is not that."""
    said = sighting_of(text)
    words = _WORD.findall(text.lower())
    looked_up = all(word in _NUMBER_WORDS or word.isdigit() for word in words)
    return () if said is None or said.gone or looked_up else said.codes


def _gone(plain: str) -> bool:
    names = _CODE_WORD.search(plain) or codes_in(plain)
    short = len(plain.split()) <= MOST_WORDS
    return bool(names and short and _GONE.search(plain) and not _NOT_GONE.search(plain))


def panel_part(text: str) -> str:
    """What of a heard utterance about the panel is read back although it names no code; "" for nothing."""
    said = sighting_of(text)
    if said is None or said.codes:
        return ""
    return "no code on the panel" if said.none else "the code is gone"
