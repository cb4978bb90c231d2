"""Sound, and what may be expected in it: what microphone, files, recognisers, speakers and loudspeaker pass on."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from assistant.domain.utterance import Heard

RATE_HZ = 16_000
"""Rate of all sound that is recognised; other rates are resampled where they come in."""

Samples = NDArray[np.int16]
"""int16 (n,), mono."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sound:
    """Mono sound: samples int16 (n,), `start_ms` its place in the recording or since the microphone was opened."""

    samples: Samples
    rate_hz: int = RATE_HZ
    start_ms: int = 0

    @property
    def length_ms(self) -> int:
        """How long it lasts."""
        return round(1000 * len(self.samples) / self.rate_hz)


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """What the knowledge makes of some readings: for each the chance that it is about something authored.

    `terms`: what to be primed with when listening again. `settled`: the first reading names what is read back (a code, a
    figure, a declaration), so that no other may be preferred to it.
    """

    chances: tuple[float, ...]
    terms: tuple[str, ...] = ()
    settled: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Expectation:
    """What may be said now.

    One of these `phrases` when there are any, and `only` them (a closed grammar) unless anything else may be said too; else
    anything. `terms` are words of the knowledge that an open recogniser is primed with. `outlook` is asked, where an open
    recogniser is not sure, what its readings are about.
    """

    phrases: tuple[str, ...] = ()
    only: bool = True
    terms: tuple[str, ...] = ()
    outlook: Callable[[Sequence[str]], Outlook] | None = None


class Hearing(Protocol):
    """One utterance being recognised while it is spoken."""

    def accept(self, samples: Samples) -> str:
        """Take more sound (int16, RATE_HZ); the text so far, "" where an engine gives no partial results."""

    def settle(self) -> None:
        """It has perhaps ended, and only silence may follow: an engine that hears whole utterances can begin."""

    def resume(self) -> None:
        """It goes on after all: what was begun is of no use."""

    def finish(self) -> Heard:
        """The utterance; text "" with confidence 0 when nothing was understood."""


class Recogniser(Protocol):
    """Sound to text."""

    @property
    def name(self) -> str:
        """Engine and model, for `Heard.engine`."""

    def listen(self, expectation: Expectation, start_ms: int) -> Hearing:
        """Begin an utterance."""


class Speaker(Protocol):
    """Text to sound."""

    @property
    def name(self) -> str:
        """Engine and voice."""

    def speak(self, sentence: str, pace: float) -> Iterator[Sound]:
        """Sound of one sentence in pieces as they are ready; `pace` 1.0 is the voice's own, 0.8 slower."""


class SoundSource(Protocol):
    """Where sound comes from: a microphone or a file."""

    def blocks(self) -> Iterator[Samples]:
        """Blocks of int16 samples at RATE_HZ until it ends."""


class SoundSink(Protocol):
    """Where sound goes: a loudspeaker or, in tests, a list."""

    def play(self, sound: Sound) -> None:
        """Queue sound; returns at once."""

    def stop(self) -> None:
        """Silence at once, dropping what is queued."""

    @property
    def playing(self) -> bool:
        """Whether anything queued has not been heard yet."""
