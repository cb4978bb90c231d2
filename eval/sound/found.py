"""Questions heard -> whether an entry that answers is among the first three, against the same questions typed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from assistant.dialogue.session import Session
from assistant.domain.utterance import Utterance
from assistant.pipeline import Assistant
from eval.measures import recall_at
from eval.sound.hearing import HeardTrial

DEPTH = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """Shares of questions found: typed, heard, and heard without the repair of hearing."""

    typed: float
    heard: float
    unrepaired: float


def found(trials: Sequence[HeardTrial], assistant: Assistant) -> Found | None:
    """Over the questions of these trials; None when there are none."""
    questions = [t for t in trials if t.trial.case is not None]
    if not questions:
        return None
    count = len(questions)
    return Found(
        typed=sum(_hit(t, Utterance(text=t.trial.text), assistant) for t in questions) / count,
        heard=sum(_hit(t, Utterance(text=t.heard.text, heard=t.heard), assistant) for t in questions) / count,
        unrepaired=sum(_hit(t, Utterance(text=t.heard.text), assistant) for t in questions) / count,
    )


def _hit(trial: HeardTrial, utterance: Utterance, assistant: Assistant) -> float:
    """Nothing heard finds nothing."""
    case = trial.trial.case
    assert case is not None
    if not utterance.text.strip():
        return 0.0
    hits = assistant.looked_up(utterance, Session(assistant, case.machine or None).conversation).hits
    return recall_at(DEPTH, [str(hit.entry) for hit in hits], case.wanted)
