"""A code or figure heard -> whether a wrong one was acted on, with the confirmation of the talk between.

The technician of this bench is careful: yes to a read-back that is right, no to any other, the same again where asked, the
number of what was said where a choice is offered.
"""

from __future__ import annotations

from collections.abc import Collection
from enum import StrEnum

from assistant.dialogue.critical import critical_in
from assistant.dialogue.hearing import NONE_OF_THESE, HearingSession
from assistant.dialogue.session import Session
from assistant.domain.answer import Answer
from assistant.domain.utterance import Heard
from assistant.pipeline import Assistant
from assistant.recognition.spoken_forms import codes_in
from eval.sound.hearing import HeardTrial

MOST_TURNS = 6
SCOPE = "drumlin"
REPLY_CONFIDENCE = 0.9


class Outcome(StrEnum):
    """RIGHT: confirmed and acted on. WRONG: another code or figure acted on. NOT: asked again, or taken for a plain question."""

    RIGHT = "right"
    WRONG = "wrong"
    NOT = "not acted on"


class _Noting(Session):
    """A session that notes the texts acted on."""

    def __init__(self, assistant: Assistant) -> None:
        super().__init__(assistant, SCOPE)
        self.acted: list[tuple[str, Answer]] = []

    def say(self, text: str, heard: Heard | None = None) -> Answer:
        answer = super().say(text, heard)
        self.acted.append((text, answer))
        return answer


def outcome_of(trial: HeardTrial, assistant: Assistant, codes: Collection[str]) -> Outcome:
    """What comes of one heard code or figure; empty sound comes to nothing."""
    if not trial.heard.text.strip():
        return Outcome.NOT
    knowledge = assistant.knowledge
    names = knowledge.designations
    wanted = critical_in(trial.trial.text, names, None).parts
    session = _Noting(assistant)
    talk = HearingSession(session, codes, names)
    answer = talk.take(trial.heard.text, trial.heard)
    for _ in range(MOST_TURNS):
        if session.acted:
            break
        choices = answer.pending.choices if answer.pending is not None and talk.reads_back else ()
        if NONE_OF_THESE in choices:
            said = ", ".join(wanted)
            reply = said if said in choices else NONE_OF_THESE
        elif choices:
            reply = "yes" if answer.lead == f"I heard {', '.join(wanted)}. Yes?" else "no"
        else:
            answer = talk.take(trial.heard.text, trial.heard)
            continue
        answer = talk.take(reply, Heard(text=reply, confidence=REPLY_CONFIDENCE, engine="", start_ms=0, end_ms=0))
        if reply == NONE_OF_THESE:
            break
    if not session.acted:
        return Outcome.NOT
    text, acted = session.acted[0]
    return _judged(wanted, critical_in(text, names, None).parts, text, acted, trial.trial.text)


def _judged(wanted: tuple[str, ...], parts: tuple[str, ...], text: str, acted: Answer, said: str) -> Outcome:
    """Beside what is read back, a code in the answer that was neither said nor confirmed is wrong."""
    named = {mention.digits for mention in (*codes_in(said), *codes_in(text))}
    if parts and parts != wanted:
        return Outcome.WRONG
    if not parts and set(acted.codes) - named:
        return Outcome.WRONG
    return Outcome.RIGHT if parts and parts == wanted else Outcome.NOT
