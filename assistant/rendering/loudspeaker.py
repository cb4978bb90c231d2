"""Sound -> the loudspeaker, through PortAudio; the library is imported when a loudspeaker is built."""

from __future__ import annotations

import time
from typing import Any

import numpy as np
from numpy.typing import NDArray

from assistant.domain.sound import Sound
from assistant.errors import VoiceError
from assistant.recognition.microphone import numbered, reason_of
from assistant.rendering.playback import Playback

LATENCY_S = 0.1
"""Asked of the device; less ran dry on two busy cores, and more is heard as a late `stop`."""
GONE_AFTER_S = 5.0
"""A loudspeaker that asks for no sound for so long is taken for unplugged; PortAudio goes on calling the stream active."""
HINT = "Answers are printed; `handlamp audio devices` lists what there is."


class Loudspeaker:
    """The default output, or the device named; silence at once on `stop`."""

    def __init__(self, device: str | int | None = None) -> None:
        """Open the device and keep it open, so that the first word does not wait for it.

        Raises:
            VoiceError: PortAudio is missing, or there is no such device, or it is busy.

        """
        try:
            import sounddevice
        except (ImportError, OSError) as error:
            raise VoiceError(f"There is no sound output: {error}.", "Install PortAudio (libportaudio2).") from error
        device = numbered(device)
        self._asked_at = time.monotonic()
        self._errors = (sounddevice.PortAudioError, ValueError)
        try:
            rate_hz = round(float(sounddevice.query_devices(device, "output")["default_samplerate"]))
            self.playback = Playback(rate_hz)
            self.latency_ms, self._silent_from = 0, time.monotonic()
            self._stream: Any = sounddevice.OutputStream(
                samplerate=rate_hz, channels=1, dtype="int16", device=device, latency=LATENCY_S, callback=self._fill
            )
            self._stream.start()
            self.latency_ms = round(1000 * float(self._stream.latency))
        except self._errors as error:
            raise VoiceError(f"The loudspeaker cannot be opened: {reason_of(error)}.", HINT) from error

    def _fill(self, out: NDArray[np.int16], frames: int, when: Any, status: Any) -> None:
        self._asked_at = time.monotonic()
        if not self.playback.empty:
            self._silent_from = time.monotonic() + frames / self.playback.rate_hz + self.latency_ms / 1000
        out[:, 0] = self.playback.take(frames)

    def play(self, sound: Sound) -> None:
        """Queue sound; returns at once.

        Raises:
            VoiceError: the device is gone.

        """
        if self.gone:
            raise VoiceError("The loudspeaker is gone.", HINT)
        self.playback.put(sound)

    def stop(self) -> None:
        """Silence at once; up to `latency_ms` is already in the device."""
        self.playback.clear()
        self._silent_from = time.monotonic()

    @property
    def gone(self) -> bool:
        """Whether the device has ended, or has asked for nothing for GONE_AFTER_S."""
        return not self._stream.active or time.monotonic() - self._asked_at > GONE_AFTER_S

    @property
    def playing(self) -> bool:
        """Whether something queued has not left the device yet."""
        return not self.gone and (not self.playback.empty or time.monotonic() < self._silent_from)

    @property
    def volume(self) -> float:
        """What samples are multiplied by."""
        return self.playback.volume

    @volume.setter
    def volume(self, value: float) -> None:
        self.playback.volume = value

    def heard(self) -> Sound:
        """What has just been played, the newest last."""
        return Sound(samples=self.playback.heard(), rate_hz=self.playback.rate_hz)

    def close(self) -> None:
        """Give the device back."""
        try:
            self._stream.close()
        except self._errors:
            return  # it was unplugged: there is nothing to give back
