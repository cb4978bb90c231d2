"""How likely each phrase of a closed list is -> the one that was said, and how sure that is."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

from assistant.domain.utterance import Reading
from assistant.recognition.saying import cardinal

PLAIN = -0.3
"""Mean log-probability a token of a phrase that is plainly said; one below it is the best of the list and may still be another
word: "next" in noise was "yes" at -1.2, with nothing near it."""
UNSURE = -0.5
"""Mean log-probability a token below which a short free text in noise is more often a phrase of the list than words of its own."""
WIDE_MARGIN, LEAST_TOLD = 4.0, -0.9
"""How much less likely a phrase may then be, and what the sound must still say for it. Measured: 78 to 94 % of commands right at
10 dB; of 72 sentences, codes and figures none taken for a command."""
MARGIN = 1.5
"""Natural log units a token that the best phrase may be less likely than the free text before it is none of the list."""


PRIOR_WEIGHT = 0.5
"""Share of a phrase's log-probability without any sound that is taken off: what the model likes to write is no evidence that it
was said. Measured over 120 commands in three voices: at 10 dB 92 % right without, 98 to 100 % with; at 5 dB 78 and 92 %."""
SHARPNESS = 2.0
"""Tokens that a phrase counts for when likelihoods are held against each other; it has two to four."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Scored:
    """A phrase and its mean log-probability a token, given the sound and (`prior`) given silence."""

    phrase: str
    log_probability: float
    prior: float = 0.0

    @property
    def told(self) -> float:
        """What the sound says for it."""
        return self.log_probability - PRIOR_WEIGHT * self.prior


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


def choose(free: Reading, scored: Sequence[Scored]) -> Chosen:
    """The phrase that the sound speaks for most; none when all are much less likely than what was freely heard.

    The confidence is the phrase's share among all, taken down by how much less likely it is than the free text, and than a
    phrase plainly said. Ties go to the first of the list.
    """
    best = max(scored, key=lambda s: s.told, default=None)
    if best is None or not _may_be(free, best):
        return Chosen(phrase="", confidence=0.0)
    share = 1.0 / sum(math.exp(SHARPNESS * (s.told - best.told)) for s in scored)
    behind = math.exp(min(0.0, best.log_probability - free.log_probability))
    poor = math.exp(min(0.0, best.log_probability - PLAIN))
    return Chosen(phrase=best.phrase, confidence=share * behind * poor)


def _may_be(free: Reading, best: Scored) -> bool:
    """Whether the best phrase may be what was said: nearly as likely as the free text, or that is short and unsure itself."""
    behind = free.log_probability - best.log_probability
    unsure = free.log_probability < UNSURE and len(free.text.split()) <= len(best.phrase.split()) + 1
    return behind <= MARGIN or (unsure and behind <= WIDE_MARGIN and best.told >= LEAST_TOLD)
