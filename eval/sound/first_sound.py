"""How long after the end of speech the first sound of the answer is heard: utterances from files, voice and clock real.

From the end of the speech in the sound: the silence that ends the utterance, recognition, the session's turn, and the
first piece of the first line out of the voice. What the loudspeaker's own buffer adds is not in it.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from assistant.assembly import Options, make_assistant, shelf_of
from assistant.dialogue.outlook import KnowledgeOutlook
from assistant.dialogue.session import Session
from assistant.domain.answer import Answer
from assistant.domain.sound import RATE_HZ, Samples, Sound, Speaker
from assistant.domain.utterance import Heard
from assistant.recognisers import make_recogniser
from assistant.recognition.endpointing import Endpointer, Timing
from assistant.recognition.priming import priming_terms
from assistant.recognition.voice_activity import SileroDetector
from assistant.rendering.playback import resampled
from assistant.settings import load_settings
from assistant.talk.conversation import Conversation
from assistant.talk.ears import Ears
from assistant.talk.mouth import Mouth
from assistant.talk.screen import PrintedScreen
from assistant.talk.state import LineSaid, Phase
from assistant.talk_cli import make_speaker

QUESTIONS = (
    "what does code two zero four mean",
    "how tight should the turntable chain be",
    "where is fuse three",
    "the film keeps tearing at the corners",
    "the display is dark and no lamps are lit",
    "what is the gap of the home sensor",
    "the carriage sinks while it should hold",
    "how do i replace the safety relay",
)
TYPICAL_MS, P95_MS = 1000.0, 1500.0
SILENCE = np.zeros(round(0.6 * RATE_HZ), dtype=np.int16)


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstSound:
    """Milliseconds after the end of speech: `silence` waited for, then `heard` (recognition), `answered`, `sounded`."""

    question: str
    silence_ms: float
    heard_ms: float
    answered_ms: float
    sounded_ms: float

    @property
    def total_ms(self) -> float:
        """From the end of the speech to the first sound."""
        return self.silence_ms + self.heard_ms + self.answered_ms + self.sounded_ms


class _Stopwatch:
    """Turns of a session and a sink that note when they come."""

    playing = False

    def __init__(self, session: Session) -> None:
        self._session = session
        self.heard_at = self.answered_at = self.sounded_at = 0.0

    def take(self, text: str, heard: Heard | None) -> Answer:
        self.heard_at = time.perf_counter()
        answer = self._session.say(text, heard)
        self.answered_at = time.perf_counter()
        return answer

    def play(self, sound: Sound) -> None:
        self.sounded_at = self.sounded_at or time.perf_counter()

    def stop(self) -> None:
        """Nothing is queued."""


def measure(questions: Sequence[str] = QUESTIONS) -> tuple[FirstSound, ...]:
    """Each question spoken by the voice itself, heard, answered, and timed to the first sound."""
    settings = load_settings()
    assistant = make_assistant(settings, Options(model=False), print)
    recogniser = make_recogniser(shelf_of(settings))
    speaker = make_speaker(print)
    terms = priming_terms(assistant.knowledge)

    def measured(question: str) -> FirstSound:
        session = Session(assistant, "drumlin")
        watch = _Stopwatch(session)
        talk = Conversation(
            turns=watch,
            screen=PrintedScreen(lambda text: None, 80),
            terms=lambda: terms,
            outlook=KnowledgeOutlook(assistant.knowledge, assistant.looked_up, lambda: session.conversation),
        )
        mouth = Mouth(speaker, watch, said=lambda ticket: talk.post(LineSaid(ticket=ticket)), lost=print)
        talk.with_mouth(mouth)
        ears = Ears(recogniser, Endpointer(SileroDetector(), Timing()), talk.expecting)
        timed = _timed(question, talk, ears, watch, _speech(speaker, question))
        mouth.close()
        return timed

    measured(questions[0])  # warms the engines
    return tuple(measured(question) for question in questions)


def _speech(speaker: Speaker, question: str) -> Samples:
    sounds = [resampled(sound.samples, sound.rate_hz, RATE_HZ) for sound in speaker.speak(question, 1.0)]
    speech = np.concatenate(sounds)
    loud = np.flatnonzero(np.abs(speech) > 500)
    return speech[: loud[-1] + 1]


def _timed(question: str, talk: Conversation, ears: Ears, watch: _Stopwatch, speech: Samples) -> FirstSound:
    silence_from = len(speech)
    sound = np.concatenate([SILENCE, speech, SILENCE])
    taken = ended = 0.0
    for place in range(0, len(sound), 512):
        begun = time.perf_counter()
        impressions = list(ears.accept(sound[place : place + 512]))
        for impression in impressions:
            talk.hear(impression)
        if watch.heard_at and not ended:
            ended, taken = begun, 1000 * (place + 512 - len(SILENCE) - silence_from) / RATE_HZ
            break
    while talk.talk.phase is Phase.SPEAKING and not watch.sounded_at:
        time.sleep(0.001)
    return FirstSound(
        question=question,
        silence_ms=taken,
        heard_ms=1000 * (watch.heard_at - ended),
        answered_ms=1000 * (watch.answered_at - watch.heard_at),
        sounded_ms=1000 * (watch.sounded_at - watch.answered_at),
    )


def report(found: Sequence[FirstSound]) -> str:
    """A row a question, then median and 95th percentile against the bars."""
    rows = [f"{'question':<44}{'silence':>8}{'heard':>8}{'answer':>8}{'sound':>8}{'total':>8}  ms"]
    rows += [
        f"{f.question:<44}{f.silence_ms:>8.0f}{f.heard_ms:>8.0f}{f.answered_ms:>8.0f}{f.sounded_ms:>8.0f}{f.total_ms:>8.0f}"
        for f in found
    ]
    for name, values in (
        ("after recognition", [f.answered_ms + f.sounded_ms for f in found]),
        ("after the end of the utterance", [f.total_ms - f.silence_ms for f in found]),
        ("after the end of speech", [f.total_ms for f in found]),
    ):
        median, p95 = np.percentile(values, [50, 95])
        rows.append(
            f"first sound {name}: median {median:.0f} ms (bar {TYPICAL_MS:.0f}), p95 {p95:.0f} ms (bar {P95_MS:.0f})"
        )
    return "\n".join(rows)


def main() -> None:
    """Measure and print."""
    print(report(measure()))


if __name__ == "__main__":
    main()
