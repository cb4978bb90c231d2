"""Blocks of sound -> where an utterance starts and ends: a pure machine over chances of speech, and what feeds it."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Protocol

import numpy as np

from assistant.domain.sound import RATE_HZ, Hearing, Samples

CHUNK = 512
"""Samples that the voice-activity model judges at once, 32 ms."""
CHUNK_MS = 1000 * CHUNK // RATE_HZ


@dataclass(frozen=True, slots=True, kw_only=True)
class Timing:
    """When an utterance starts and ends.

    `start_chance` and `end_chance`: chance of speech from which a chunk counts as speech, and below which as silence; the
    gap between the two keeps a wavering voice in one piece. `least_speech_ms` of speech begin an utterance, so that a
    knock does not. `end_silence_ms` end it, and after `settling_ms` it has perhaps ended already. `longest_ms` cut it, so
    that noise that sounds like speech cannot hold it open. `pre_roll_ms` before the first speech belong to it, so that a
    soft first syllable is not lost.
    """

    start_chance: float = 0.5
    end_chance: float = 0.35
    least_speech_ms: int = 96
    settling_ms: int = 224
    end_silence_ms: int = 480
    longest_ms: int = 20_000
    pre_roll_ms: int = 320


QUESTION_IN_A_FILE = Timing(settling_ms=1_600, end_silence_ms=1_600, longest_ms=28_000)
"""A recorded question may hold a pause for thought; nobody waits while it is read, so nothing is begun before its end."""


class Phase(StrEnum):
    """Where the machine is."""

    SILENCE = "silence"
    SPEECH = "speech"
    OVERLONG = "overlong"


class Edge(StrEnum):
    """What happened with a chunk: it has perhaps ended (SETTLING), it goes on after all (RESUMED); CUT is an end by length."""

    STARTED = "started"
    SOUND = "sound"
    SETTLING = "settling"
    RESUMED = "resumed"
    ENDED = "ended"
    CUT = "cut"


@dataclass(frozen=True, slots=True, kw_only=True)
class EndpointState:
    """`speech_ms` in a row before a start, `silence_ms` in a row since speech, `length_ms` of the utterance so far."""

    phase: Phase = Phase.SILENCE
    speech_ms: int = 0
    silence_ms: int = 0
    length_ms: int = 0


def step(state: EndpointState, chance: float, timing: Timing) -> tuple[EndpointState, Edge | None]:
    """The state after one more chunk, and its edge; None outside of an utterance.

    After a cut nothing starts until there was silence, so that a steady noise gives one cut utterance and not a train
    of them.
    """
    match state.phase:
        case Phase.SILENCE:
            return _in_silence(state, chance, timing)
        case Phase.SPEECH:
            return _in_speech(state, chance, timing)
        case Phase.OVERLONG:
            silence = state.silence_ms + CHUNK_MS if chance < timing.end_chance else 0
            over = silence >= timing.end_silence_ms
            return (EndpointState() if over else replace(state, silence_ms=silence)), None


def _in_silence(state: EndpointState, chance: float, timing: Timing) -> tuple[EndpointState, Edge | None]:
    if chance < timing.start_chance:
        return EndpointState(), None
    speech = state.speech_ms + CHUNK_MS
    if speech < timing.least_speech_ms:
        return replace(state, speech_ms=speech), None
    return EndpointState(phase=Phase.SPEECH, length_ms=speech), Edge.STARTED


def _in_speech(state: EndpointState, chance: float, timing: Timing) -> tuple[EndpointState, Edge | None]:
    length = state.length_ms + CHUNK_MS
    silence = state.silence_ms + CHUNK_MS if chance < timing.end_chance else 0
    if silence >= timing.end_silence_ms:
        return EndpointState(), Edge.ENDED
    if length >= timing.longest_ms:
        return EndpointState(phase=Phase.OVERLONG, silence_ms=silence), Edge.CUT
    after = replace(state, silence_ms=silence, length_ms=length)
    if state.silence_ms < timing.settling_ms <= silence:
        return after, Edge.SETTLING
    return after, Edge.RESUMED if state.silence_ms >= timing.settling_ms > silence else Edge.SOUND


class VoiceDetector(Protocol):
    """Judges chunks of CHUNK samples in their order."""

    def chance(self, chunk: Samples) -> float:
        """Chance that the chunk is speech, 0..1."""

    def reset(self) -> None:
        """Forget what came before."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Piece:
    """Sound of an utterance as it comes: with STARTED the pre-roll too; `start_ms` where these samples began."""

    edge: Edge
    samples: Samples
    start_ms: int


class Endpointer:
    """Takes blocks of any size and gives the pieces of utterances."""

    def __init__(self, detector: VoiceDetector, timing: Timing | None = None) -> None:
        """Begin in silence."""
        self._detector = detector
        self._timing = timing or Timing()
        self._state = EndpointState()
        self._rest: Samples = np.zeros(0, dtype=np.int16)
        kept_ms = self._timing.pre_roll_ms + self._timing.least_speech_ms
        self._before: deque[Samples] = deque(maxlen=max(1, kept_ms // CHUNK_MS - 1))
        self._chunks = 0

    @property
    def speaking(self) -> bool:
        """Whether an utterance is open."""
        return self._state.phase is Phase.SPEECH

    def accept(self, samples: Samples) -> tuple[Piece, ...]:
        """The pieces that a block completes, in order."""
        joined = np.concatenate((self._rest, samples))
        whole = len(joined) // CHUNK * CHUNK
        self._rest = joined[whole:]
        found = (self._take(chunk) for chunk in joined[:whole].reshape(-1, CHUNK))
        return tuple(piece for piece in found if piece is not None)

    def finish(self) -> tuple[Piece, ...]:
        """The sound has ended: an open utterance ends with it."""
        if not self.speaking:
            return ()
        self._state = EndpointState()
        return (Piece(edge=Edge.ENDED, samples=self._rest, start_ms=self._chunks * CHUNK_MS),)

    def reset(self) -> None:
        """Back to silence, without what came before; the time goes on."""
        self._state = EndpointState()
        self._before.clear()
        self._detector.reset()

    def _take(self, chunk: Samples) -> Piece | None:
        start_ms = self._chunks * CHUNK_MS
        self._chunks += 1
        self._state, edge = step(self._state, self._detector.chance(chunk), self._timing)
        if edge is None:
            self._before.append(chunk)
            return None
        if edge is Edge.STARTED:
            before = list(self._before)
            self._before.clear()
            return Piece(
                edge=edge, samples=np.concatenate([*before, chunk]), start_ms=start_ms - len(before) * CHUNK_MS
            )
        return Piece(edge=edge, samples=chunk, start_ms=start_ms)


def follow(hearing: Hearing, edge: Edge) -> None:
    """Tell an utterance that is being recognised that it has perhaps ended, or that it goes on."""
    if edge is Edge.SETTLING:
        hearing.settle()
    elif edge is Edge.RESUMED:
        hearing.resume()
