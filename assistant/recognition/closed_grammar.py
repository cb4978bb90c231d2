"""What a free recogniser heard -> the one phrase of a closed list that it is, and how sure that is."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

from assistant.recognition.saying import cardinal
from assistant.recognition.sounds_like import sound_of

MARGIN = 1.5
"""Natural log units a token that the best phrase may be less likely than the free text before it is none of the list."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Scored:
    """A phrase and its mean log-probability a token, given the sound."""

    phrase: str
    log_probability: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Chosen:
    """A phrase of the list, "" for none of it, and the confidence 0..1."""

    phrase: str
    confidence: float


def plain(text: str) -> str:
    """Lower case, words only, one space between; figures are words too ("5" and "five" sound the same)."""
    worded = re.sub(r"\d{1,9}", lambda match: f" {cardinal(int(match.group()))} ", text.lower())
    return " ".join(re.sub(r"[^\w\s']", " ", worded).split())


def is_phrase(text: str, phrases: Sequence[str]) -> bool:
    """Whether the text is a phrase of the list, punctuation and case aside."""
    return plain(text) in {plain(phrase) for phrase in phrases}


def nearest(text: str, phrases: Sequence[str], most: int) -> tuple[str, ...]:
    """The phrases that are or sound most like the text, in the order of the list, `most` of them."""
    from jellyfish import jaro_winkler_similarity

    said = plain(text)
    sound = sound_of(said)

    def unlike(place: int) -> tuple[float, int]:
        other = plain(phrases[place])
        return -jaro_winkler_similarity(said, other) - jaro_winkler_similarity(sound, sound_of(other)), place

    return tuple(phrases[place] for place in sorted(sorted(range(len(phrases)), key=unlike)[:most]))


def choose(free: str, free_log_probability: float, phrases: Sequence[str], scored: Sequence[Scored]) -> Chosen:
    """The phrase that was said: what was freely heard when it is one, else the likeliest that is not much less likely.

    The confidence is the phrase's share of the likelihood of all phrases, taken down by how much less likely it is than
    the free text. Ties go to the first of the list.
    """
    exact = next((phrase for phrase in phrases if plain(phrase) == plain(free)), "")
    best = max(scored, key=lambda s: s.log_probability, default=None)
    share = {s.phrase: math.exp(s.log_probability) for s in scored}
    total = sum(share.values()) or 1.0
    if exact:
        return Chosen(phrase=exact, confidence=max(math.exp(free_log_probability), share.get(exact, 0.0) / total))
    if best is None or best.log_probability < free_log_probability - MARGIN:
        return Chosen(phrase="", confidence=0.0)
    behind = math.exp(min(0.0, best.log_probability - free_log_probability))
    return Chosen(phrase=best.phrase, confidence=share[best.phrase] / total * behind)
