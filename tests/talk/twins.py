"""Recogniser, detector, speaker, source and sink whose words and sounds are written down beforehand."""

import numpy as np

from assistant.domain.sound import Sound
from assistant.domain.utterance import Heard

CHUNK = 512


def quiet(chunks=1):
    return np.zeros(CHUNK * chunks, dtype=np.int16)


def speech(number, chunks=10):
    """Sound that the twin of the recogniser takes for the utterance with this number."""
    return np.full(CHUNK * chunks, 1000 + number, dtype=np.int16)


class ScriptedDetector:
    """Speech is what is louder than 500."""

    def chance(self, chunk):
        return 1.0 if int(np.abs(chunk).max()) > 500 else 0.0

    def reset(self):
        pass


class ScriptedHearing:
    def __init__(self, recogniser, start_ms):
        self._recogniser, self._start_ms = recogniser, start_ms
        self._loudest = 0
        self._count = 0

    def settle(self):
        self.settled = True

    def resume(self):
        self.settled = False

    def accept(self, samples):
        self._count += len(samples)
        self._loudest = max(self._loudest, int(np.abs(samples).max(initial=0)))
        return self._text().split(" ")[0]

    def _text(self):
        return self._recogniser.texts.get(self._loudest - 1000, "")

    def finish(self):
        return Heard(
            text=self._text(),
            confidence=0.9 if self._text() else 0.0,
            engine="twin",
            start_ms=self._start_ms,
            end_ms=self._start_ms + self._count // 16,
        )


class ScriptedRecogniser:
    name = "twin"

    def __init__(self, *texts):
        self.texts = dict(enumerate(texts))
        self.expected = []

    def listen(self, expectation, start_ms):
        self.expected.append(expectation)
        return ScriptedHearing(self, start_ms)


class ScriptedSpeaker:
    """A sentence is one sound of its length; `fails_at` is one at which the voice is lost."""

    name = "twin"

    def __init__(self, fails_at=""):
        self.said, self.fails_at = [], fails_at

    def speak(self, sentence, pace):
        from assistant.errors import VoiceError

        if self.fails_at and self.fails_at in sentence:
            raise VoiceError("The voice is gone.", "Read.")
        self.said.append((sentence, pace))
        yield Sound(samples=np.full(len(sentence), 1, dtype=np.int16))


class ListSink:
    """Plays at once, or with `held` never until it is stopped."""

    def __init__(self, held=False):
        self.played, self.stops, self.held = [], 0, held
        self._open = False

    def play(self, sound):
        self.played.append(sound)
        self._open = self.held

    def stop(self):
        self.stops += 1
        self._open = False

    @property
    def playing(self):
        return self._open


class ListSource:
    def __init__(self, *blocks):
        self._blocks = blocks

    def blocks(self):
        yield from self._blocks
