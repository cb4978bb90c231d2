"""Lines -> sound: a thread that speaks one line at a time, sentence by sentence, and makes the next ready meanwhile."""

from __future__ import annotations

import queue
import re
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from assistant.domain.sound import Sound, SoundSink, Speaker
from assistant.errors import VoiceError
from assistant.talk.state import Cue, Say

LONG_PIECE = 60
"""Characters; a first sentence that is longer is cut at a comma, so that the first sound does not wait for all of it."""
LISTENING_S = 0.02
"""How often it is looked whether the sound has been heard."""
_SENTENCE = re.compile(r"(?<=[.!?])\s+(?=[A-Z])")
_CLAUSE = re.compile(r"(?<=[,;:])\s+")


def pieces_of(text: str) -> tuple[str, ...]:
    """The sentences of a line in order, a long first one cut once where it has a comma; joined by spaces they are the line."""
    sentences = [part for part in _SENTENCE.split(" ".join(text.split())) if part]
    if not sentences or len(sentences[0]) <= LONG_PIECE:
        return tuple(sentences)
    cut = _CLAUSE.search(sentences[0])
    if cut is None:
        return tuple(sentences)
    return (sentences[0][: cut.start()], sentences[0][cut.end() :], *sentences[1:])


@dataclass(frozen=True, slots=True, kw_only=True)
class _Task:
    text: str
    pace: float
    upcoming: tuple[str, float] | None
    ticket: int | None
    number: int


class Mouth:
    """Speaks through a speaker and a sink; without them, a line counts as said once it is on the screen.

    `said(ticket)` is called from the mouth's thread when a line was heard to its end, `lost(error)` when voice or
    loudspeaker fail, after which it goes on silently.
    """

    def __init__(
        self,
        speaker: Speaker | None,
        sink: SoundSink | None,
        said: Callable[[int], None],
        lost: Callable[[VoiceError], None],
        first_sound: Callable[[], None] = lambda: None,
    ) -> None:
        """Start the thread."""
        self._speaker = speaker if sink is not None else None
        self._sink = sink
        self._said, self._lost, self._first_sound = said, lost, first_sound
        self._tasks: queue.Queue[_Task | None] = queue.Queue()
        self._number = 0
        self._ready: dict[tuple[str, float], list[Sound]] = {}
        self._changing = threading.Lock()
        self._thread = threading.Thread(target=self._run, name="mouth", daemon=True)
        self._thread.start()

    @property
    def silent(self) -> bool:
        """Whether there is no voice."""
        return self._speaker is None

    def say(self, action: Say) -> None:
        """Queue a line."""
        following = action.upcoming
        factor = action.pace / action.line.pace
        upcoming = (following.text, round(following.pace * factor, 3)) if following is not None else None
        pace = round(action.pace, 3)
        self._tasks.put(
            _Task(text=action.line.text, pace=pace, upcoming=upcoming, ticket=action.ticket, number=self._number)
        )

    def cue(self, action: Cue, pace: float) -> None:
        """Queue a few words that nothing waits for."""
        self._tasks.put(_Task(text=action.text, pace=pace, upcoming=None, ticket=None, number=self._number))

    def silence(self) -> None:
        """Be silent at once and drop what is queued."""
        with self._changing:
            self._number += 1
            if self._sink is not None:
                self._sink.stop()

    def close(self) -> None:
        """End the thread; voice and loudspeaker are closed by whom they belong to."""
        self.silence()
        self._tasks.put(None)
        self._thread.join(timeout=10)

    def _run(self) -> None:
        while (task := self._tasks.get()) is not None:
            try:
                self._speak(task)
            except VoiceError as error:
                self._speaker = None
                self._lost(error)
            if task.ticket is not None and task.number == self._number:
                self._said(task.ticket)

    def _speak(self, task: _Task) -> None:
        first = True
        for sound in self._sounds(task.text, task.pace, task.number):
            if not self._played(sound, task.number):
                return
            if first:
                first = False
                self._first_sound()
        if task.upcoming is not None and task.number == self._number:
            self._make_ready(task)
        while (
            self._sink is not None and self._speaker is not None and self._sink.playing and task.number == self._number
        ):
            time.sleep(LISTENING_S)

    def _sounds(self, text: str, pace: float, number: int) -> Iterator[Sound]:
        ready = self._ready.pop((text, pace), None)
        self._ready.clear()
        pieces = pieces_of(text)
        if ready is not None:
            yield from ready
            pieces = pieces[1:]
        for piece in pieces:
            if self._speaker is None or number != self._number:
                return
            yield from self._speaker.speak(piece, pace)

    def _played(self, sound: Sound, number: int) -> bool:
        """Queue the sound unless it was silenced meanwhile."""
        with self._changing:
            if number != self._number or self._sink is None:
                return False
            self._sink.play(sound)
            return True

    def _make_ready(self, task: _Task) -> None:
        """Make the first piece of what is likely next while this is heard, so that there is no gap between the lines."""
        assert task.upcoming is not None
        text, pace = task.upcoming
        if self._speaker is not None:
            self._ready[(text, pace)] = list(self._speaker.speak(pieces_of(text)[0], pace)) if pieces_of(text) else []
