"""One observation -> right, nearly or wrong, which entry was wanted and which one won, in words for the author."""

from __future__ import annotations

from dataclasses import replace
from enum import StrEnum

from eval.observation import Observed
from eval.quality import wrong

SHOWN = ("answered", "refused")
"""Outcomes in which an entry is put in front of the technician, so that it can win a question from another."""


class Verdict(StrEnum):
    """How a question went; `nearly`: the right entry second or third, or refused as another wish."""

    WRONG = "wrong"
    NEARLY = "nearly"
    RIGHT = "right"


def faults(item: Observed) -> tuple[str, ...]:
    """What is wrong with it; nothing for a good one.

    A question that must be refused is judged by its refusal alone: refusals stand in no ranking, so a refusal that is
    graded as the entry that answers would never be found there.
    """
    if item.case.outcome != "refused":
        return wrong(item)
    return wrong(replace(item, case=replace(item.case, relevant={})))


def remark(item: Observed) -> str:
    """What is less than good though nothing is wrong: another entry first, or another refusal; else empty."""
    wanted, winner = wanted_of(item), winner_of(item)
    if faults(item) or not wanted or not winner or winner in wanted:
        return ""
    return f"refused as {winner}" if item.outcome == "refused" else f"{winner} came first"


def told_of(item: Observed) -> tuple[str, ...]:
    """What the author is told of it: its faults, else the remark, else nothing."""
    said = remark(item)
    return (said,) if said else faults(item)


def verdict(item: Observed) -> Verdict:
    """Of the three, the worst that fits."""
    if faults(item):
        return Verdict.WRONG
    return Verdict.NEARLY if remark(item) else Verdict.RIGHT


def wanted_of(item: Observed) -> tuple[str, ...]:
    """The entries of which one must win, sorted; none where nothing authored answers."""
    if item.case.outcome == "refused":
        return (item.case.refusal,)
    return tuple(sorted(item.case.wanted)) if item.case.outcome == "answered" else ()


def winner_of(item: Observed) -> str:
    """The entry put in front: the refusal, or the first hit of an answer; empty where the turn gave no entry."""
    if item.outcome not in SHOWN:
        return ""
    return item.refusal or (item.ranking[0] if item.hits else "")


def rank_of(item: Observed, entry: str) -> int:
    """Place of an entry among the ten hits, 1 for the refusal that was given, 0 where it is not among them."""
    if entry == item.refusal:
        return 1
    return item.ranking.index(entry) + 1 if entry in item.ranking else 0
