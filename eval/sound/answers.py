"""Trials heard -> what the program would do with them: entries found against typed, codes and figures acted on after read-back.

The speaker that is simulated says yes to a read-back only when it is what was said, as an attentive person does; what is acted on
without one is what the confirmation is there to prevent.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from assistant.dialogue.critical import critical_in
from assistant.dialogue.hearing import HearingSession
from assistant.dialogue.session import Session
from assistant.domain.turn import Conversation
from assistant.domain.utterance import Utterance
from assistant.pipeline import Assistant
from eval.sound.hearing import HeardTrial
from eval.sound.trials import Kind

FIRST = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """Share of questions whose entry is among the first three, typed, heard, and heard without the repair of hearing."""

    questions: int
    typed: float
    heard: float
    unrepaired: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Acted:
    """Codes and figures: read back as they were said, read back wrong or asked again, and acted on wrong."""

    said: int
    right: int
    asked_again: int
    wrong: int


def found(assistant: Assistant, trials: Sequence[HeardTrial]) -> Found | None:
    """How sound does beside the keyboard, on the same questions; None without questions."""
    asked = [t for t in trials if t.trial.kind is Kind.QUESTION and t.trial.case is not None]
    if not asked:
        return None
    typed = [_among(assistant, t, Utterance(text=t.trial.text)) for t in asked]
    heard = [_among(assistant, t, Utterance(text=t.heard.text, heard=t.heard)) for t in asked]
    plain = [_among(assistant, t, Utterance(text=t.heard.text)) for t in asked]
    count = len(asked)
    return Found(questions=count, typed=sum(typed) / count, heard=sum(heard) / count, unrepaired=sum(plain) / count)


def _among(assistant: Assistant, trial: HeardTrial, utterance: Utterance) -> bool:
    case = trial.trial.case
    assert case is not None
    if not utterance.text.strip():
        return False
    hits = assistant.looked_up(utterance, Conversation(scope=case.machine or None)).hits[:FIRST]
    return any(str(hit.entry) in case.wanted for hit in hits)


def acted(assistant: Assistant, trials: Sequence[HeardTrial], names: frozenset[str]) -> Acted:
    """What becomes of the codes and figures said, each to a session of its own."""
    said = [t for t in trials if t.trial.kind in (Kind.CODE, Kind.FIGURE)]
    right = again = wrong = 0
    for trial in said:
        session = HearingSession.of(assistant, Session(assistant))
        answer = session.take(trial.heard.text, trial.heard)
        meant = critical_in(trial.trial.text, names, None).parts
        got = critical_in(trial.heard.text, names, None).parts
        if session.reads_back:
            right, again = right + (got == meant), again + (got != meant)
        elif got and got != meant and answer.outcome != "ask_again":
            wrong += 1
        else:
            again += 1
    return Acted(said=len(said), right=right, asked_again=again, wrong=wrong)
