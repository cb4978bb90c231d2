"""Trials -> what was heard of each, by one recogniser: text, confidence, how long it took after the end of speech."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from assistant.domain.sound import RATE_HZ, Expectation, Hearing, Recogniser, Samples
from assistant.domain.turn import Pending, PendingKind
from assistant.domain.utterance import Heard
from assistant.recognition.endpointing import VoiceDetector
from assistant.recognition.questions import hear_question
from assistant.talk.commands import Asked, expectation
from eval.sound.hall import in_hall
from eval.sound.trials import Kind, Trial
from eval.sound.voices import VoiceBox

REPLY_EXPECTED = Pending(kind=PendingKind.CHECK, text="", choices=("yes", "no", "don't know"))
NOTHING = Heard(text="", confidence=0.0, engine="", start_ms=0, end_ms=0)


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardTrial:
    """A trial and what was heard; `elapsed_ms` from the end of the utterance to its text."""

    trial: Trial
    heard: Heard
    elapsed_ms: float


class ListSource:
    """Samples as a source of sound."""

    def __init__(self, samples: Samples) -> None:
        """Blocks of 100 ms."""
        self._samples = samples

    def blocks(self) -> Iterator[Samples]:
        """In order."""
        yield from np.array_split(self._samples, max(1, len(self._samples) * 10 // RATE_HZ))


class Timed:
    """A recogniser that notes how long each utterance took to be finished."""

    def __init__(self, inner: Recogniser, clock_ms: Callable[[], float]) -> None:
        """Wrap a recogniser."""
        self._inner, self._clock_ms = inner, clock_ms
        self.name = inner.name
        self.elapsed_ms = 0.0

    def listen(self, expectation: Expectation, start_ms: int) -> Hearing:
        """An utterance whose end is timed."""
        return _TimedHearing(self, self._inner.listen(expectation, start_ms), self._clock_ms)


class _TimedHearing:
    def __init__(self, owner: Timed, inner: Hearing, clock_ms: Callable[[], float]) -> None:
        self._owner, self._inner, self._clock_ms = owner, inner, clock_ms

    def accept(self, samples: Samples) -> str:
        return self._inner.accept(samples)

    def settle(self) -> None:
        self._inner.settle()

    def resume(self) -> None:
        self._inner.resume()

    def finish(self) -> Heard:
        started = self._clock_ms()
        heard = self._inner.finish()
        self._owner.elapsed_ms = self._clock_ms() - started
        return heard


class Listener:
    """One recogniser under one way of priming."""

    def __init__(
        self,
        recogniser: Recogniser,
        detector: VoiceDetector,
        box: VoiceBox,
        terms: tuple[str, ...],
        clock_ms: Callable[[], float],
        outlook_in: Callable[[str | None], Asked] | None = None,
    ) -> None:
        """`terms`: what an open recogniser is primed with, if anything; `outlook_in`: scope -> what it asks when not sure."""
        self._timed, self._detector, self._box, self._terms = Timed(recogniser, clock_ms), detector, box, terms
        self._outlook_in = outlook_in

    def hear(self, trial: Trial, spoken: str) -> HeardTrial:
        """The trial as it was heard, by the way of a sound file; `spoken`: its text as the voice says it."""
        closed = trial.kind is Kind.COMMAND
        pending = REPLY_EXPECTED if closed else None
        scope = trial.case.machine or None if trial.case is not None else None
        outlook = self._outlook_in(scope) if self._outlook_in is not None else None
        expected = expectation(pending, self._terms, awake=True, outlook=outlook)
        return self.hear_words(trial, spoken, expected)

    def hear_words(self, trial: Trial, spoken: str, expected: Expectation) -> HeardTrial:
        """Any words in the voice and the noise of the trial."""
        sound = in_hall(self._box.say(trial.voice, spoken), trial.snr_db, trial.seed)
        self._detector.reset()
        self._timed.elapsed_ms = 0.0
        question = hear_question(ListSource(sound), self._timed, self._detector, expected)
        return HeardTrial(trial=trial, heard=question.heard or NOTHING, elapsed_ms=self._timed.elapsed_ms)
