"""Sound -> the loudspeaker, through PortAudio; the library is imported when a loudspeaker is built."""

from __future__ import annotations

import time
from typing import Any

import numpy as np
from numpy.typing import NDArray

from assistant.domain.sound import Sound
from assistant.errors import VoiceError
from assistant.rendering.playback import Playback

LATENCY_S = 0.1
"""Asked of the device; less ran dry on two busy cores, and more is heard as a late `stop`."""
HINT = "`handlamp audio devices` lists what there is; answers are printed."


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
        self._errors = (sounddevice.PortAudioError, ValueError)
        try:
            rate_hz = round(float(sounddevice.query_devices(device, "output")["default_samplerate"]))
            self.playback = Playback(rate_hz)
            self._stream: Any = sounddevice.OutputStream(
                samplerate=rate_hz, channels=1, dtype="int16", device=device, latency=LATENCY_S, callback=self._fill
            )
            self._stream.start()
        except self._errors as error:
            raise VoiceError(f"The loudspeaker cannot be opened: {error}.", HINT) from error
        self.latency_ms = round(1000 * float(self._stream.latency))
        self._silent_from = time.monotonic()

    def _fill(self, out: NDArray[np.int16], frames: int, when: Any, status: Any) -> None:
        if not self.playback.empty:
            self._silent_from = time.monotonic() + frames / self.playback.rate_hz + self.latency_ms / 1000
        out[:, 0] = self.playback.take(frames)

    def play(self, sound: Sound) -> None:
        """Queue sound; returns at once.

        Raises:
            VoiceError: the device is gone.

        """
        if not self._stream.active:
            raise VoiceError("The loudspeaker is gone.", HINT)
        self.playback.put(sound)

    def stop(self) -> None:
        """Silence at once; up to `latency_ms` is already in the device."""
        self.playback.clear()
        self._silent_from = time.monotonic()

    @property
    def playing(self) -> bool:
        """Whether something queued has not left the device yet."""
        gone = not self._stream.active
        return not gone and (not self.playback.empty or time.monotonic() < self._silent_from)

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
