"""A session whose turns are written to the job record before their answers are given back."""

from __future__ import annotations

from collections.abc import Callable

from assistant.dialogue.session import Session, Turner
from assistant.domain.answer import Answer
from assistant.domain.utterance import Heard
from assistant.errors import AssistantError
from assistant.records.recorder import Recorder

Note = Callable[[str], None]


class RecordedSession(Session):
    """What was heard and not yet confirmed never comes here, so it is never recorded."""

    def __init__(
        self,
        assistant: Turner,
        machine: str | None,
        clock_s: Callable[[], float] | None,
        recorder: Recorder,
        note: Note,
    ) -> None:
        """`note` tells the technician what became of the record."""
        super().__init__(assistant, machine, clock_s)
        self._recorder: Recorder | None = recorder
        self._note = note

    def say(self, raw: str, heard: Heard | None = None) -> Answer:
        """One turn, and its record; one that cannot be written is told once, and the work goes on."""
        before = self.conversation
        answer = super().say(raw, heard)
        if self._recorder is not None:
            try:
                self.conversation = self._recorder.note(answer.question, before, self.conversation, answer)
            except AssistantError as error:
                self._recorder = None
                self._note(f"{error.message} {error.hint} What follows is not recorded.")
        return answer

    def resume(self) -> None:
        """Put the conversation of the job that waits in place; its page comes with the next "where was I"."""
        if self._recorder is None:
            return
        try:
            waiting = self._recorder.take_up()
        except AssistantError as error:
            self._note(f"{error.message} {error.hint}")
            return
        if waiting is not None:
            self.take_up(waiting[0])
            self._note(waiting[1])

    def leave(self) -> None:
        """The conversation is over: what is not finished is left open in the record."""
        if self._recorder is None:
            return
        try:
            self._recorder.leave(self.conversation)
        except AssistantError as error:
            self._note(f"{error.message} {error.hint}")
