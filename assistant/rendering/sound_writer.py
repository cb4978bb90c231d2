"""Sound -> a WAV file, in place of a loudspeaker."""

from __future__ import annotations

import wave
from pathlib import Path

from assistant.domain.sound import Sound
from assistant.errors import VoiceError
from assistant.rendering.playback import LOUDEST, resampled

RATE_HZ = 22_050
"""Of the file; what is spoken at another rate is resampled."""


class SoundWriter:
    """Everything that is played, one after the other; it is heard at once."""

    playing = False

    def __init__(self, path: Path) -> None:
        """Begin the file.

        Raises:
            VoiceError: it cannot be written.

        """
        try:
            self._file = wave.open(str(path), "wb")
        except OSError as error:
            raise VoiceError(f"{path} cannot be written: {error.strerror}.", "Name another file.") from error
        self._file.setparams((1, 2, RATE_HZ, 0, "NONE", ""))
        self.volume = 1.0

    def play(self, sound: Sound) -> None:
        """Write it."""
        samples = resampled(sound.samples, sound.rate_hz, RATE_HZ) * self.volume
        self._file.writeframes(samples.clip(-LOUDEST, LOUDEST).astype("<i2").tobytes())

    def stop(self) -> None:
        """What is written stays."""

    def close(self) -> None:
        """End the file."""
        self._file.close()
