"""A source of sound -> the first utterance in it that holds words: what stands for a typed question."""

from __future__ import annotations

from dataclasses import dataclass

from assistant.domain.sound import Expectation, Hearing, Recogniser, SoundSource
from assistant.domain.utterance import Heard
from assistant.recognition.endpointing import QUESTION_IN_A_FILE, Edge, Endpointer, VoiceDetector, follow
from assistant.recognition.level import NO_WORDS, Level, Meter, faults_of


@dataclass(frozen=True, slots=True, kw_only=True)
class SpokenQuestion:
    """What was heard first, None when no words were; the level of the sound up to there; the notes for the user."""

    heard: Heard | None
    level: Level
    notes: tuple[str, ...] = ()


def hear_question(
    source: SoundSource, recogniser: Recogniser, detector: VoiceDetector, expectation: Expectation, name: str = ""
) -> SpokenQuestion:
    """Listen until an utterance with words has ended, or the sound has; what comes after it is not listened to.

    Raises:
        SoundError: the source breaks off.

    """
    endpointer, meter = Endpointer(detector, QUESTION_IN_A_FILE), Meter()
    hearing: Hearing | None = None
    blocks = iter(source.blocks())
    while True:
        block = next(blocks, None)
        pieces = endpointer.finish() if block is None else endpointer.accept(block)
        if block is not None:
            meter.add(block)
        for piece in pieces:
            if piece.edge is Edge.STARTED:
                hearing = recogniser.listen(expectation, piece.start_ms)
            assert hearing is not None, "a piece follows a start"
            hearing.accept(piece.samples)
            follow(hearing, piece.edge)
            if piece.edge in (Edge.ENDED, Edge.CUT):
                heard = hearing.finish()
                if heard.text:
                    cut = (
                        (f"{name}what was said was cut at {heard.end_ms // 1000} s.",) if piece.edge is Edge.CUT else ()
                    )
                    return SpokenQuestion(heard=heard, level=meter.level(), notes=cut)
        if block is None:
            level = meter.level()
            faults = faults_of(level, speech=hearing is not None) or (NO_WORDS,)
            return SpokenQuestion(heard=None, level=level, notes=tuple(f"{name}{fault}" for fault in faults))
