"""Blocks of sound -> what is heard: the beginning of speech, the text so far, the utterance."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from assistant.domain.sound import Expectation, Hearing, Recogniser, Samples, Sound
from assistant.domain.utterance import Heard
from assistant.recognition.endpointing import Edge, Endpointer, Piece, follow
from assistant.recognition.level import Level, Meter
from assistant.talk.own_voice import FRAME, OwnVoice, OwnVoiceGate

LONGEST_FRAMES = 600
"""Frames that a key can hold the ears open, 19 s; a foot that rests on the switch shall not."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Began:
    """Somebody speaks."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SoFar:
    """The text so far, "" where an engine gives none."""

    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Ended:
    """The utterance; `cut` when it was ended by its length; `level` of its sound with the pauses around it."""

    heard: Heard
    cut: bool = False
    level: Level | None = None


Impression = Began | SoFar | Ended


class Ears:
    """One stream of sound, its endpoints and its recogniser.

    `expecting` is asked what may be said when an utterance begins.
    """

    def __init__(
        self,
        recogniser: Recogniser,
        endpointer: Endpointer,
        expecting: Callable[[], Expectation],
    ) -> None:
        """Nothing heard yet."""
        self._recogniser, self._endpointer = recogniser, endpointer
        self._expecting = expecting
        self._own = OwnVoice()
        self._gate = OwnVoiceGate(self._own)
        self._rest: Samples = np.zeros(0, dtype=np.int16)
        self._hearing: Hearing | None = None
        self._meter = Meter()
        self._held_frames: int | None = None

    @property
    def hearing(self) -> bool:
        """Whether an utterance is open."""
        return self._hearing is not None

    def accept(self, block: Samples, played: Sound | None = None) -> Iterator[Impression]:
        """What a block of any length brings.

        `played`: what the loudspeaker had played within the last second when the block came in, None when it was silent;
        with it, the own voice is not heard.
        """
        joined = np.concatenate((self._rest, block))
        whole = len(joined) // FRAME * FRAME
        self._rest = joined[whole:]
        for frame in joined[:whole].reshape(-1, FRAME):
            yield from self._frame(frame, played)

    def open(self) -> Iterator[Impression]:
        """The key is down: hear from now on, whether it sounds like speech or not."""
        self.reset()
        self._held_frames = 0
        self._begin(0)
        yield Began()

    def finish(self) -> Iterator[Impression]:
        """The sound has ended, or the key is up: an open utterance ends with it."""
        if self._held_frames is not None:
            yield from self._held(self._rest, closing=True)
        else:
            for part in (*self._gate.release(), self._rest):
                yield from self._pieces(self._endpointer.accept(part))
            yield from self._pieces(self._endpointer.finish())
        self._rest = self._rest[:0]

    def nobody_spoke(self) -> None:
        """What interrupted the own voice was nobody's speech."""
        self._own.mistaken()

    def reset(self) -> None:
        """Deaf to what came before."""
        self._endpointer.reset()
        self._gate.release()
        self._rest, self._hearing, self._held_frames = self._rest[:0], None, None

    def _begin(self, start_ms: int) -> None:
        self._hearing, self._meter = self._recogniser.listen(self._expecting(), start_ms), Meter()

    def _frame(self, frame: Samples, played: Sound | None) -> Iterator[Impression]:
        if self._held_frames is not None:
            yield from self._held(frame)
            return
        for part in self._let_through(frame, played):
            yield from self._pieces(self._endpointer.accept(part))

    def _held(self, frame: Samples, *, closing: bool = False) -> Iterator[Impression]:
        """While the key is down all sound is heard; a silence after speech, or the longest time, ends it too."""
        hearing, count = self._hearing, self._held_frames
        assert hearing is not None and count is not None
        self._held_frames = count + 1
        text = hearing.accept(frame)
        self._meter.add(frame)
        edges = [piece.edge for piece in self._endpointer.accept(frame)]
        for edge in edges:
            follow(hearing, edge)
        if closing or count >= LONGEST_FRAMES or Edge.ENDED in edges or Edge.CUT in edges:
            self._hearing = self._held_frames = None
            self._endpointer.reset()
            cut = not closing and Edge.ENDED not in edges
            yield Ended(heard=hearing.finish(), cut=cut, level=self._meter.level())
        else:
            yield SoFar(text=text)

    def _let_through(self, frame: Samples, played: Sound | None) -> list[Samples]:
        if played is None or self._hearing is not None:
            return [*self._gate.release(), frame]
        return self._gate.frames(frame, played)

    def _pieces(self, pieces: Iterable[Piece]) -> Iterator[Impression]:
        for piece in pieces:
            yield from self._piece(piece)

    def _piece(self, piece: Piece) -> Iterator[Impression]:
        if piece.edge is Edge.STARTED:
            self._begin(piece.start_ms)
            yield Began()
        hearing = self._hearing
        if hearing is None:
            return
        text = hearing.accept(piece.samples)
        self._meter.add(piece.samples)
        follow(hearing, piece.edge)
        if piece.edge in (Edge.ENDED, Edge.CUT):
            self._hearing = None
            yield Ended(heard=hearing.finish(), cut=piece.edge is Edge.CUT, level=self._meter.level())
        else:
            yield SoFar(text=text)
