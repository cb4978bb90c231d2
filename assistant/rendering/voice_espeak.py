"""Sentences -> sound by espeak-ng, a program of the system that is run once a sentence."""

from __future__ import annotations

import io
import shutil
import subprocess
import wave
from collections.abc import Iterator

import numpy as np

from assistant.domain.sound import Sound
from assistant.errors import VoiceError

PROGRAM = "espeak-ng"
VOICE = "en-gb"
WORDS_A_MINUTE = 160
"""Pace 1.0; the program's own is 175 (its manual page), a little fast in noise."""
LONGEST_S = 20.0
"""A sentence takes some 20 ms; a program that takes this long hangs."""


def has_espeak() -> bool:
    """Whether the program is installed."""
    return shutil.which(PROGRAM) is not None


class EspeakSpeaker:
    """The formant voice of espeak-ng."""

    name = f"{PROGRAM} {VOICE}"

    def speak(self, sentence: str, pace: float) -> Iterator[Sound]:
        """Sound of the sentence, in one piece.

        Raises:
            VoiceError: the program cannot be run, or gave no sound.

        """
        rate = str(round(WORDS_A_MINUTE * pace))
        command = [PROGRAM, "-v", VOICE, "-s", rate, "--stdout", "--stdin"]
        try:
            done = subprocess.run(command, input=sentence.encode(), capture_output=True, check=True, timeout=LONGEST_S)
            yield _sound(done.stdout)
        except (OSError, subprocess.SubprocessError, wave.Error, EOFError) as error:
            raise VoiceError(f"{PROGRAM} cannot speak: {error}.", "Answers are printed.") from error

    def close(self) -> None:
        """Nothing is kept."""


def _sound(data: bytes) -> Sound:
    """The samples of a WAV on a pipe, whose header gives no true length."""
    with wave.open(io.BytesIO(data)) as file:
        frames = file.readframes(len(data) // 2)
        return Sound(samples=np.frombuffer(frames, dtype="<i2").astype(np.int16), rate_hz=file.getframerate())
