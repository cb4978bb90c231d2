"""Queued sound -> the samples that are due now, and what has just been heard: the part of a loudspeaker without a device."""

from __future__ import annotations

import threading
from collections import deque

import numpy as np
from numpy.typing import NDArray

from assistant.domain.sound import Samples, Sound

LOUDEST = np.iinfo(np.int16).max


def resampled(samples: Samples, rate_hz: int, target_hz: int) -> Samples:
    """int16 (n,) at another rate (soxr)."""
    if rate_hz == target_hz or not len(samples):
        return samples
    import soxr

    out: Samples = soxr.resample(samples, rate_hz, target_hz, quality="LQ")
    return out


class Playback:
    """A queue of samples at one rate, filled by one thread and emptied by another.

    `volume` multiplies; what would pass the largest sample is held there. `heard` keeps the last `kept_ms` that were
    taken, which is what a microphone may be hearing now.
    """

    def __init__(self, rate_hz: int, kept_ms: int = 1000) -> None:
        """Empty, at full volume."""
        self.rate_hz = rate_hz
        self.volume = 1.0
        self._queue: deque[Samples] = deque()
        self._kept = round(rate_hz * kept_ms / 1000)
        self._heard: NDArray[np.int16] = np.zeros(self._kept, dtype=np.int16)
        self._lock = threading.Lock()

    def put(self, sound: Sound) -> None:
        """Queue sound of any rate."""
        with self._lock:
            self._queue.append(resampled(sound.samples, sound.rate_hz, self.rate_hz))

    def clear(self) -> None:
        """Drop what has not been taken."""
        with self._lock:
            self._queue.clear()

    @property
    def empty(self) -> bool:
        """Whether everything queued was taken."""
        with self._lock:
            return not self._queue

    def take(self, count: int) -> Samples:
        """The next samples int16 (count,) at the volume that is set, silence where nothing is queued."""
        out = np.zeros(count, dtype=np.int16)
        with self._lock:
            filled = 0
            while filled < count and self._queue:
                head = self._queue.popleft()
                part = head[: count - filled]
                out[filled : filled + len(part)] = part
                filled += len(part)
                if len(part) < len(head):
                    self._queue.appendleft(head[len(part) :])
            if self.volume != 1.0:
                out = np.clip(out * self.volume, -LOUDEST, LOUDEST).astype(np.int16)
            self._heard = np.concatenate([self._heard, out])[-self._kept :]
        return out

    def heard(self) -> Samples:
        """The last samples that were taken, int16 (rate_hz * kept_ms / 1000,), the newest last."""
        with self._lock:
            return self._heard.copy()
