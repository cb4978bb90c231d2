"""What the microphone hears while the loudspeaker plays -> whether somebody else speaks, or it is the assistant's own voice.

A suppressor's gate, not a canceller: it needs no exact delay and survives a hall's echo. In each band, the level at the
microphone is compared with the loudest that was played within the time that sound can take; the share that comes back is
learned while nobody speaks. That an echo is held down band by band is common practice, no source; the numbers are measured
with the synthetic halls of the tests.
"""

from __future__ import annotations

from collections import deque

import numpy as np
from numpy.typing import NDArray

from assistant.domain.sound import RATE_HZ, Samples, Sound
from assistant.rendering.playback import resampled

EDGES_HZ = (200, 400, 600, 800, 1100, 1500, 2000, 2700, 3600, 5000)
"""Nine bands in which speech is."""
FRAME = 512
"""Samples of a frame, 32 ms: the voice-activity model's own."""
ABOVE = 4.0
"""Power ratio (6 dB) by which a band has to pass what the own voice and the noise explain."""
BANDS = 3
"""Bands that have to pass it; a click or a hum passes fewer, or more but shortly."""
LEARNING_FRAMES = 12
"""Frames of the first playback that are all taken for the own voice, 0.4 s."""
GROWTH = 1.15
"""How much a coupling may grow in a frame after that, so that a voice that sets in is not learned as an echo."""
FORGETTING = 0.997
"""Share of a coupling kept in a frame; half is forgotten in 7 s, so that a loudspeaker that is moved is learned anew."""
NOISE_RISE = 1.01
QUIET = 1e3
"""Power of a band (of int16 samples) below which nothing is played."""
Bands = NDArray[np.float64]


def band_powers(samples: Samples) -> Bands:
    """Mean power float64 (n_frames, n_bands) of each whole frame of int16 samples at RATE_HZ."""
    count = len(samples) // FRAME
    frames = samples[: count * FRAME].reshape(count, FRAME) * np.hanning(FRAME)
    spectra = np.abs(np.fft.rfft(frames, axis=1)) ** 2 / FRAME
    hertz = np.fft.rfftfreq(FRAME, 1 / RATE_HZ)
    bands = [
        spectra[:, (hertz >= low) & (hertz < high)].mean(axis=1)
        for low, high in zip(EDGES_HZ, EDGES_HZ[1:], strict=False)
    ]
    return np.stack(bands, axis=1)


class OwnVoice:
    """Learns how much of the own voice comes back, and tells another's from it."""

    def __init__(self) -> None:
        """Nothing learned."""
        bands = len(EDGES_HZ) - 1
        self._coupling: Bands = np.zeros(bands)
        self._noise: Bands = np.full(bands, np.inf)
        self._learned = 0

    def is_foreign(self, frame: Samples, played: Sound) -> bool:
        """Whether the frame int16 (FRAME,) holds more than what was `played` within the last second can explain."""
        here = band_powers(frame)[0]
        reference = band_powers(resampled(played.samples, played.rate_hz, RATE_HZ)).max(axis=0, initial=0.0)
        loud = reference > QUIET
        if not loud.any():
            self._noise = np.minimum(
                np.where(np.isfinite(self._noise), self._noise * NOISE_RISE, here), np.maximum(here, 1.0)
            )
            return True
        noise = np.where(np.isfinite(self._noise), self._noise, 0.0)
        explained = self._coupling * reference + noise
        foreign = self._learned >= LEARNING_FRAMES and int((here > ABOVE * explained + QUIET).sum()) >= BANDS
        if not foreign:
            self._learn(here, reference, loud)
        return foreign

    def _learn(self, here: Bands, reference: Bands, loud: NDArray[np.bool_]) -> None:
        share = np.where(loud, here / np.maximum(reference, 1.0), 0.0)
        known = self._coupling * FORGETTING
        most = np.maximum(known, 1e-6) * GROWTH if self._learned >= LEARNING_FRAMES else np.inf
        self._coupling = np.where(loud, np.maximum(known, np.minimum(share, most)), self._coupling)
        self._learned += 1


class OwnVoiceGate:
    """Frames of the microphone in, the same frames out a little later: silent where only the own voice was heard."""

    def __init__(self, own: OwnVoice, ahead: int = 3) -> None:
        """`ahead`: frames of delay, so that the beginning of a foreign voice is let through, too."""
        self._own = own
        self._ahead = ahead
        self._held: deque[tuple[Samples, bool]] = deque()
        self._votes: deque[bool] = deque(maxlen=ahead + 1)

    def frames(self, frame: Samples, played: Sound) -> list[Samples]:
        """The frames that are decided by now."""
        self._votes.append(self._own.is_foreign(frame, played))
        certain = sum(self._votes) >= min(2, len(self._votes))
        self._held.append((frame, certain))
        if len(self._held) <= self._ahead:
            return []
        oldest, was = self._held.popleft()
        open_now = was or any(certain for _, certain in self._held)
        return [oldest if open_now else np.zeros_like(oldest)]

    def release(self) -> list[Samples]:
        """The frames still held, when nothing is played any more or somebody is known to speak."""
        out = [frame if certain else np.zeros_like(frame) for frame, certain in self._held]
        self._held.clear()
        self._votes.clear()
        return out
