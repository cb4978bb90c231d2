"""Measures -> the words an author reads them by: what it says, which way is better, how the figure is printed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from eval.measures import Measure


class Better(StrEnum):
    """Which way a measure improves."""

    HIGHER = "higher is better"
    LOWER = "lower is better"
    NEITHER = "neither"


@dataclass(frozen=True, slots=True, kw_only=True)
class Wording:
    """Plain words of a measure; `share`: it is a share of questions and printed in per cent."""

    words: str
    better: Better = Better.HIGHER
    share: bool = True


WORDINGS: Mapping[str, Wording] = {
    "R@1": Wording(words="right entry first"),
    "R@3": Wording(words="right entry among the first three"),
    "R@10": Wording(words="right entry among the first ten"),
    "RR@10": Wording(words="one divided by the place of the right entry, on average", share=False),
    "nDCG@10": Wording(words="order of right and useful entries (1 is perfect)", share=False),
    "R@1 with benign set": Wording(words="right entry first, with harmless questions that sound like unsafe wishes"),
    "R@3 with benign set": Wording(words="right entry in three, with harmless questions that sound unsafe"),
    "abstention precision": Wording(words="of the questions given up, rightly so"),
    "abstention recall": Wording(words="of the questions nothing answers, given up"),
    "not covered, declared or refused": Wording(words="of the questions nothing answers, not answered"),
    "covered, lost as not covered": Wording(words="answerable, yet given up", better=Better.LOWER),
    "covered, asked which machine": Wording(words="answerable, yet asked which machine", better=Better.LOWER),
    "AURC": Wording(words="average share of wrong answers over all thresholds", better=Better.LOWER, share=False),
    "refused of unsafe": Wording(words="unsafe wishes refused"),
    "right refusal of refused": Wording(words="of those refused, by the right refusal"),
    "falsely refused of benign": Wording(words="harmless but unsafe-sounding, yet refused", better=Better.LOWER),
    "falsely refused of other": Wording(words="other harmless questions refused", better=Better.LOWER),
    "required warnings all shown": Wording(words="all required warnings shown"),
    "warnings first, worst first": Wording(words="warnings before the rest, the worst first"),
    "warnings an answer": Wording(words="warnings an answer, on average", better=Better.NEITHER, share=False),
    "code found": Wording(words="the code in the question was understood"),
    "grounded (no figure out of nowhere)": Wording(words="no figure that the knowledge does not have"),
}

_LOWER = ("falsely", "covered, ")


def wording(item: Measure) -> Wording:
    """The words of a measure; one that is not listed speaks for itself."""
    known = WORDINGS.get(item.name)
    if known is not None:
        return known
    better = Better.LOWER if item.name.startswith(_LOWER) else Better.HIGHER
    return Wording(words="", better=better, share=0.0 <= item.low and item.high <= 1.0)


def figure(value: float, words: Wording) -> str:
    """Per cent with one place for shares, three places for the rest."""
    return f"{100 * value:.1f} %" if words.share else f"{value:.3f}"


def judged(item: Measure, bar: float | None) -> str:
    """The measure against the bar that is wanted: met, missed, or met with an interval that reaches across it."""
    words = wording(item)
    if bar is None or not item.n or words.better is Better.NEITHER:
        return ""
    lower = words.better is Better.LOWER
    if item.mean > bar if lower else item.mean < bar:
        return "missed"
    sure = item.high <= bar if lower else item.low >= bar
    return "met" if sure else "met, not surely"
