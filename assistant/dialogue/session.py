"""One conversation: raw text in, answer out, and the state kept between the turns."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Protocol

from assistant.dialogue.intake import clean
from assistant.domain.answer import Answer
from assistant.domain.terms import EntryId
from assistant.domain.turn import Conversation, State
from assistant.domain.utterance import Heard, Utterance
from assistant.errors import BadQuestion, UnknownName
from assistant.recognition.spoken_forms import designations_in
from assistant.rules.verdict import Case, Rules


class Turner(Protocol):
    """What takes one turn; the pipeline's Assistant, or a scripted twin."""

    @property
    def rules(self) -> Rules:
        """The maker of answers."""

    def turn(self, utterance: Utterance, before: Conversation) -> tuple[Answer, Conversation]:
        """The answer and what it leaves."""

    def resumed(self, before: Conversation) -> tuple[Answer, Conversation]:
        """The page of the work that a job was left at."""

    def told(self, entry: EntryId, question: str, before: Conversation) -> tuple[Answer, Conversation]:
        """The answer from one entry named by its id."""


class Session:
    """Holds the conversation of one person."""

    def __init__(
        self, assistant: Turner, machine: str | None = None, clock_s: Callable[[], float] | None = None
    ) -> None:
        """Start with nothing declared; `clock_s` tells when something is said, where somebody speaks in real time."""
        self._assistant = assistant
        self.clock_s = clock_s
        self.conversation = Conversation(scope=machine)

    @property
    def rules(self) -> Rules:
        """The maker of answers."""
        return self._assistant.rules

    def say(self, raw: str, heard: Heard | None = None) -> Answer:
        """One turn, typed or heard; text that is no question is asked again, never an exception."""
        try:
            utterance = replace(clean(raw, heard), at_s=self.clock_s() if self.clock_s else None)
        except BadQuestion as error:
            case = Case(
                utterance=Utterance(text=""),
                state=self.conversation.state,
                scope=self.conversation.scope,
                pending=self.conversation.pending,
            )
            return self._assistant.rules.ask_again(case, f"{error.message} {error.hint}")
        answer, self.conversation = self._assistant.turn(utterance, self.conversation)
        return answer

    def show(self, name: str) -> Answer:
        """The answer from one entry, by id or designation.

        Raises:
            UnknownName: there is no such entry; near ones are offered.

        """
        entry = self._assistant.rules.entry_named(name, self.conversation.scope, designations_in)
        if entry is None:
            near = self._assistant.rules.near_names(name)
            raise UnknownName(
                f"There is no entry or component `{name}`.", f"Near it: {', '.join(near)}." if near else ""
            )
        answer, self.conversation = self._assistant.told(entry, name, self.conversation)
        return answer

    def take_up(self, conversation: Conversation) -> Answer | None:
        """Go on with a conversation that was left; the page of its work, or None when none goes on."""
        self.conversation = conversation
        if not conversation.work.going_on:
            return None
        answer, self.conversation = self._assistant.resumed(conversation)
        return answer

    def use_machine(self, pack: str) -> None:
        """Put a machine in scope."""
        self.conversation = Conversation(scope=pack, state=State())
