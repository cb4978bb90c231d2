"""Heard utterances -> turns of the session, with what could do harm read back first; typed ones pass through.

A code, designation, reading or declaration that was heard is acted on only after a yes. Below a confidence it is asked
again, after two failures offered as a numbered choice. The read-back waits here, beside the conversation, so that it can
never be taken for the answer to an isolation item that waits there.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass, replace
from typing import Protocol

from assistant.dialogue.critical import Critical, critical_in
from assistant.dialogue.replies import Reply, reply_of
from assistant.dialogue.session import Session
from assistant.domain.answer import Answer
from assistant.domain.knowledge import KnowledgeBase
from assistant.domain.search import Findings
from assistant.domain.terms import Energy
from assistant.domain.turn import Conversation, Pending, PendingKind
from assistant.domain.utterance import Heard, Utterance
from assistant.recognition.numbers import small_number_at, tokens_of
from assistant.recognition.repair import NUMBER_WORDS
from assistant.recognition.saying import say_text
from assistant.rules import energy_state
from assistant.rules.phrases import NO, YES
from assistant.rules.verdict import Case

ASK_AGAIN_BELOW = 0.30
"""Confidence below which what was heard is not even read back."""
SURE_REPLY = 0.45
"""Confidence from which a yes counts, to a read-back or to an isolation item, and any reply to a check."""
SURE_SENTENCE = 0.5
"""Confidence below which a sentence is read back before it is answered: nearly half of those heard so are not what was said."""
MOST_FAILURES = 2
MOST_CHOICES = 4
SHORT_WORDS = 3
"""An utterance of up to so many words that is no reply to a read-back is a reply heard badly, not a new question."""
NONE_OF_THESE = "none of these"
NOT_UNDERSTOOD = "That was not understood. Say it again."
SAY_AGAIN = "Say it again."
DIGIT_BY_DIGIT = "The code was not heard whole. Say it digit by digit."
LEFT = "Left out. Say it in other words, or type it."
NOT_SURE_OF_REPLY = "Yes or no?"


class Lookup(Protocol):
    """What knows the names of the knowledge and can look without answering; the pipeline's Assistant."""

    @property
    def knowledge(self) -> KnowledgeBase:
        """What was authored."""

    def looked_up(self, utterance: Utterance, before: Conversation) -> Findings:
        """What would be found."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """What was heard and waits: `heard` None when it is to be said again; `offered` while a choice is open."""

    heard: Heard | None
    failures: int = 0
    candidates: tuple[Heard, ...] = ()
    offered: tuple[Heard, ...] = ()
    lead: str = ""


class HearingSession:
    """A session that can be spoken to."""

    def __init__(
        self,
        session: Session,
        codes: Collection[str],
        designations: Collection[str],
        look: Callable[[Utterance, Conversation], Findings] | None = None,
    ) -> None:
        """`codes` and `designations`: those of the knowledge. `look`: shows with a read-back what it would find."""
        self.session = session
        self._look = look
        self._codes, self._designations = tuple(sorted(codes)), frozenset(designations)
        self._waiting: Waiting | None = None

    @classmethod
    def of(cls, assistant: Lookup, session: Session, *, looking: bool = False) -> HearingSession:
        """For an assistant and one of its sessions; `looking` shows with a read-back what it would find."""
        knowledge = assistant.knowledge
        look = assistant.looked_up if looking else None
        return cls(session, {code.id for code in knowledge.codes}, knowledge.designations, look)

    @property
    def reads_back(self) -> bool:
        """Whether something heard waits for its yes."""
        return self._waiting is not None

    def take(self, text: str, heard: Heard | None) -> Answer:
        """One turn; a typed one drops what was heard and not yet confirmed."""
        if heard is None:
            self._waiting = None
            return self.session.say(text)
        said = replace(heard, text=text)
        if energy_state.speaks_of_power(text) and self.session.conversation.state.energy is Energy.ISOLATED:
            self.session.conversation = energy_state.void(self.session.conversation, Energy.UNKNOWN)
        waiting = self._waiting
        if waiting is None:
            return self._fresh(said, Waiting(heard=None))
        if waiting.offered:
            return self._choice(said, waiting)
        return self._fresh(said, waiting) if waiting.heard is None else self._reply(said, waiting, waiting.heard)

    def _fresh(self, said: Heard, before: Waiting) -> Answer:
        if not said.text.strip():
            return self._failed(said, before, NOT_UNDERSTOOD, candidate=None)
        critical = self._critical(said.text)
        if critical.unclear:
            return self._failed(said, before, DIGIT_BY_DIGIT, candidate=None)
        if not critical.parts:
            return self._harmless(said, before)
        if said.confidence < ASK_AGAIN_BELOW:
            return self._failed(said, before, f"It sounded like {_listed(critical.parts)}. {SAY_AGAIN}", said)
        return self._read_back(said, before, f"I heard {_listed(critical.parts)}. Yes?")

    def _read_back(self, said: Heard, before: Waiting, lead: str) -> Answer:
        self._waiting = replace(before, heard=said, candidates=self._with(before.candidates, said), lead=lead)
        return self._asked(said, lead, (YES, NO))

    def _harmless(self, said: Heard, before: Waiting) -> Answer:
        pending = self.session.conversation.pending
        if pending is not None and said.confidence < SURE_REPLY and _decides(said.text, pending):
            why = NOT_SURE_OF_REPLY if YES in pending.choices else SAY_AGAIN
            return self.session.rules.ask_again(self._case(said, pending), why)
        if said.confidence < SURE_SENTENCE and len(said.text.split()) > SHORT_WORDS:
            return self._read_back(said, before, f"I heard: {self._name(said.text)}. Yes?")
        self._waiting = None
        return self.session.say(said.text, said)

    def _reply(self, said: Heard, waiting: Waiting, held: Heard) -> Answer:
        reply = reply_of(said.text)
        if reply is Reply.YES and said.confidence >= SURE_REPLY:
            self._waiting = None
            return self.session.say(self._confirmed(held.text), held)
        if reply is Reply.NO:
            return self._failed(said, replace(waiting, heard=None), SAY_AGAIN, candidate=None)
        if reply is None and self._critical(said.text).parts:
            return self._fresh(said, replace(waiting, heard=None, failures=waiting.failures + 1))
        if reply is None and len(said.text.split()) > SHORT_WORDS:
            self._waiting = None
            return self._fresh(said, Waiting(heard=None))
        if waiting.failures >= MOST_FAILURES:
            return self._failed(said, replace(waiting, heard=None), SAY_AGAIN, candidate=None)
        self._waiting = replace(waiting, failures=waiting.failures + 1)
        return self._asked(said, waiting.lead, (YES, NO))

    def _failed(self, said: Heard, before: Waiting, why: str, candidate: Heard | None) -> Answer:
        candidates = self._with(before.candidates, candidate) if candidate else before.candidates
        failures = before.failures + 1
        offered = self._offers(candidates) if failures >= MOST_FAILURES else ()
        if offered:
            self._waiting = Waiting(heard=None, failures=failures, candidates=candidates, offered=offered)
            return self._offer(said, offered)
        self._waiting = Waiting(heard=None, failures=failures, candidates=candidates) if candidates else None
        return self.session.rules.ask_again(self._case(said, self.session.conversation.pending), why)

    def _offer(self, said: Heard, offered: tuple[Heard, ...]) -> Answer:
        names = (*(self._name(h.text) for h in offered), NONE_OF_THESE)
        numbered = ", ".join(f"{number}: {name}" for number, name in zip(_NUMBERS, names, strict=False))
        return self._asked(said, f"Which was it? {numbered}.", names)

    def _choice(self, said: Heard, waiting: Waiting) -> Answer:
        names = [self._name(h.text) for h in waiting.offered]
        place = _chosen(said.text, names)
        self._waiting = None
        if place is not None and place < len(names) and said.confidence >= SURE_REPLY:
            held = waiting.offered[place]
            return self.session.say(self._confirmed(held.text), held)
        return self.session.rules.ask_again(self._case(said, self.session.conversation.pending), LEFT)

    def _offers(self, candidates: tuple[Heard, ...]) -> tuple[Heard, ...]:
        """The candidates, newest first, then their other readings, and known codes that differ from theirs by one figure."""
        offers = {self._name(h.text): h for h in reversed(candidates)}
        for held in reversed(candidates):
            for reading in held.readings:
                offers.setdefault(self._name(reading.text), replace(held, text=reading.text))
            for code in self._critical(held.text).codes:
                for near in self._codes:
                    if len(near) == len(code) and sum(a != b for a, b in zip(near, code, strict=True)) == 1:
                        other = replace(held, text=f"code {near}")
                        offers.setdefault(self._name(other.text), other)
        return tuple(offers.values())[: MOST_CHOICES - 1]

    def _with(self, candidates: tuple[Heard, ...], said: Heard) -> tuple[Heard, ...]:
        name = self._name(said.text)
        return (*(h for h in candidates if self._name(h.text) != name), said)

    def _name(self, text: str) -> str:
        """What was heard as it is read back: what of it could do harm, else all of it, in words without a figure."""
        parts = self._critical(text).parts
        return _listed(parts) if parts else say_text(text, frozenset(self._codes)).rstrip(" .?!")

    def _confirmed(self, text: str) -> str:
        """What is acted on: of a code with a word at most beside it ("go 2 0 4") the code, for that is what the yes was to."""
        critical = self._critical(text)
        beside = [t.text for t in tokens_of(text) if t.text.isalpha() and t.text not in NUMBER_WORDS]
        bare = len(critical.codes) == len(critical.parts) == 1 and len(beside) <= 1
        return f"code {critical.codes[0]}" if bare else text

    def _critical(self, text: str) -> Critical:
        return critical_in(text, self._designations, self.session.conversation.pending)

    def _asked(self, said: Heard, lead: str, choices: tuple[str, ...]) -> Answer:
        pending = Pending(kind=PendingKind.CONFIRM, text=lead, choices=choices)
        return self.session.rules.ask_again(self._case(said, pending), lead)

    def _case(self, said: Heard, pending: Pending | None) -> Case:
        before = self.session.conversation
        utterance = Utterance(text=said.text, heard=said)
        findings = self._look(utterance, before) if self._look is not None and said.text else None
        return Case(utterance=utterance, state=before.state, scope=before.scope, findings=findings, pending=pending)


_NUMBERS = ("one", "two", "three", "four")


def _decides(text: str, pending: Pending) -> bool:
    """Whether a word heard wrong for another would harm: a yes to an isolation item, or what leads a check on.

    A no to an item only keeps the machine isolated or unproven, and a "don't know" leads no check the wrong way.
    """
    reply = reply_of(text)
    if pending.kind is PendingKind.CONFIRM:
        return reply is Reply.YES
    named = text.strip(" .!").lower() in (choice.lower() for choice in pending.choices)
    return pending.kind is PendingKind.CHECK and reply is not Reply.UNKNOWN and (reply is not None or named)


def _listed(parts: tuple[str, ...]) -> str:
    return ", ".join(parts)


def _chosen(text: str, names: list[str]) -> int | None:
    """The place chosen by its number or by its own words; None for neither, and for none of them."""
    plain = " ".join(token.text for token in tokens_of(text) if token.text.isalnum())
    for place, name in enumerate(names):
        if plain == " ".join(t.text for t in tokens_of(name) if t.text.isalnum()):
            return place
    tokens = tuple(token for token in tokens_of(plain) if token.text not in ("number", "the", "option"))
    number = small_number_at(tokens, 0) if tokens else None
    return number[0] - 1 if number and number[1] == len(tokens) and number[0] >= 1 else None
