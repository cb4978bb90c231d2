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
FOREIGN, DEARER, MOST_FOREIGN = 1.25, 1.2, 1.8
"""Mean, over the bands and over RUNNING frames, of how many deviations (0 to MOST each) the sound lies above what explains
it. In six synthetic halls the own voice alone reached 1.24, a person twice as loud as it 1.3 to 3.9, mostly within 0.15 s; on
virtual devices the own voice reached 1.57 in a few frames, and a person began at 1.8. So it begins at the first and is raised by
the factor, to the most, each time when what interrupted turned out to be nobody."""
RUNNING = 3
AHEAD = 5
MOST = 4.0
LEAST_DEVIATION = 0.8
"""Natural logarithm of power, 3.5 dB: echoes vary at least so much."""
MOST_OFF = 2.0
"""Deviations by which one frame may teach, so that another's voice that is not noticed does not pass for an echo soon."""
NOISE_DEVIATION = 0.5
NOISE_MARGIN = 1.4
"""The least smoothed level lies this far below the mean of a steady noise."""
LEARNING_FRAMES = 12
"""Loud frames that are taken for the own voice before anything is judged, 0.4 s."""
SLOWEST_LEARNING = 0.02
"""Weight of one more frame; half is forgotten in 1.1 s of speech, so that a loudspeaker that is moved is learned anew."""
LOUD_SHARE = 0.03
"""Of the loudest of late: a quieter frame tells nothing of the coupling, for the hall's tail is in it."""
FLOOR_SHARE = 0.004
"""Of the loudest of late (24 dB below it): so much is explained at any time, by reflections later than the tail below."""
PEAK_KEPT = 0.995
NOISE_RISE, NOISE_SMOOTHING = 1.01, 0.25
QUIET = 1e3
"""Power of a band (of int16 samples) below which nothing is played."""
REMEMBERED, MOST_LATE, LEAST_SEEN = 64, 24, 32
"""Frames: levels are compared over 2 s, for delays up to 0.77 s, once there is 1 s of them."""
NO_ECHO_FRAMES = 94
"""Frames, 3 s, after which nothing comes back that could be told from noise."""
LOOK_EVERY = 8
LEAST_LIKENESS = 0.4
CLEARLY = 0.1
"""By how much another delay has to fit better than the known one, for all is learned anew with it."""
TAIL = 0.55
"""What is left of an echo a frame later: 2.6 dB in 32 ms, a reverberation time of 0.7 s."""
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
    """Learns how late and how loud the own voice comes back, and tells another's from it."""

    def __init__(self) -> None:
        """Nothing learned."""
        bands = len(EDGES_HZ) - 1
        self._mean: Bands = np.zeros(bands)
        self._variance: Bands = np.zeros(bands)
        self._count: Bands = np.zeros(bands)
        self._noise: Bands = np.full(bands, np.inf)
        self._smooth: Bands = np.zeros(bands)
        self._tail: Bands = np.zeros(bands)
        self._peak: Bands = np.zeros(bands)
        self._here: deque[Bands] = deque(maxlen=REMEMBERED)
        self._there: deque[Bands] = deque(maxlen=REMEMBERED + MOST_LATE)
        self._strange: deque[float] = deque(maxlen=RUNNING)
        self._frames = self._played = 0
        self._foreign = FOREIGN
        self.late: int | None = None
        """Frames by which the own voice comes back, once that is known."""

    def is_foreign(self, frame: Samples, played: Sound) -> bool:
        """Whether this frame int16 (FRAME,) and those just before it hold more than what was `played` can explain.

        `played`: the last second of it, the newest last.
        """
        here = band_powers(frame)[0]
        reference = _frames_back(played)
        self._here.append(here)
        self._there.append(reference[0])
        self._frames += 1
        self._hear_noise(here)
        if not (reference > QUIET).any():
            return True
        if self._frames % LOOK_EVERY == 0:
            self._find_delay()
        echo = self._echo(reference)
        self._played += 1
        self._strange.append(self._strangeness(here, echo) if self._knows else 0.0)
        foreign = sum(self._strange) > RUNNING * self._foreign
        if not foreign:
            self._learn(here, echo)
        return foreign

    def mistaken(self) -> None:
        """What was foreign was nobody: it takes more from now on."""
        self._foreign = min(MOST_FOREIGN, DEARER * self._foreign)

    @property
    def _knows(self) -> bool:
        """Whether enough was heard to judge; a headset gives no echo whose delay could be found, so it ends by itself."""
        enough = bool(self._count.max() >= LEARNING_FRAMES)
        return enough and (self.late is not None or self._played >= NO_ECHO_FRAMES)

    def _hear_noise(self, here: Bands) -> None:
        """The least level of late: noise is what is there in the gaps of any voice."""
        self._smooth = here if self._frames == 1 else self._smooth + NOISE_SMOOTHING * (here - self._smooth)
        self._noise = np.minimum(self._noise * NOISE_RISE, np.maximum(self._smooth, 1.0))

    def _strangeness(self, here: Bands, echo: Bands) -> float:
        """How far the frame lies above own voice and noise, in deviations, as a mean over the bands."""
        own = np.exp(self._mean) * np.maximum(echo, FLOOR_SHARE * self._peak)
        noise = NOISE_MARGIN * self._noise + QUIET
        spread = np.maximum(np.sqrt(self._variance), LEAST_DEVIATION)
        spread = (own * spread + noise * NOISE_DEVIATION) / (own + noise)
        above = np.log(here + 1.0) - np.log(own + noise)
        known = self._count >= LEARNING_FRAMES
        return float(np.where(known, np.clip(above / spread, 0.0, MOST), 0.0).mean())

    def _echo(self, reference: Bands) -> Bands:
        """What may come back now, before it is weighed with the coupling: about the known delay, with a decaying tail."""
        if self.late is None:
            return np.asarray(reference.max(axis=0))
        near = reference[max(0, self.late - 1) : self.late + 3].max(axis=0)
        self._tail = np.maximum(near, TAIL * self._tail)
        return self._tail

    def _find_delay(self) -> None:
        """The delay at which the levels at the microphone follow those played best, over all bands."""
        count = min(len(self._here), len(self._there) - MOST_LATE)
        if count < LEAST_SEEN:
            return
        here = _centred(np.array(self._here)[-count:])
        there = np.array(self._there)
        scores = []
        for late in range(MOST_LATE):
            shifted = _centred(there[len(there) - late - count : len(there) - late])
            scale = float(np.sqrt((here**2).sum() * (shifted**2).sum()))
            scores.append(float((here * shifted).sum()) / scale if scale else 0.0)
        best = int(np.argmax(scores))
        moved = self.late is None or (abs(best - self.late) > 1 and scores[best] > scores[self.late] + CLEARLY)
        if scores[best] >= LEAST_LIKENESS and moved:
            self.late = best
            self._count = np.zeros_like(self._count)

    def _learn(self, here: Bands, echo: Bands) -> None:
        """Mean and variance of the share that comes back, from the bands in which something loud was played."""
        self._peak = np.maximum(echo, PEAK_KEPT * self._peak)
        loud = (echo > LOUD_SHARE * self._peak) & (echo > QUIET)
        share = np.log((here + 1.0) / np.maximum(echo, 1.0))
        self._count = self._count + loud
        weight = np.where(loud, np.maximum(SLOWEST_LEARNING, 1.0 / np.maximum(self._count, 1.0)), 0.0)
        spread = MOST_OFF * np.maximum(np.sqrt(self._variance), LEAST_DEVIATION)
        off = share - self._mean
        off = np.where(self._count > LEARNING_FRAMES, np.clip(off, -spread, spread), off)
        self._mean = self._mean + weight * off
        self._variance = (1 - weight) * (self._variance + weight * off**2)


def _frames_back(played: Sound) -> Bands:
    """Band powers of what was played, the newest frame first."""
    samples = resampled(played.samples, played.rate_hz, RATE_HZ)
    whole = samples[len(samples) % FRAME :]
    if not len(whole):
        return np.zeros((1, len(EDGES_HZ) - 1))
    return band_powers(whole)[::-1]


def _centred(powers: Bands) -> Bands:
    """Levels (dB-like) about their mean over time, band by band."""
    levels = np.log(powers + QUIET)
    return np.asarray(levels - levels.mean(axis=0))


class OwnVoiceGate:
    """Frames of the microphone in, the same frames out a little later: silent where only the own voice was heard."""

    def __init__(self, own: OwnVoice, ahead: int = AHEAD) -> None:
        """`ahead`: frames of delay, so that the beginning of a foreign voice is let through, too."""
        self._own = own
        self._ahead = ahead
        self._held: deque[tuple[Samples, bool]] = deque()

    def frames(self, frame: Samples, played: Sound) -> list[Samples]:
        """The frames that are decided by now."""
        self._held.append((frame, self._own.is_foreign(frame, played)))
        if len(self._held) <= self._ahead:
            return []
        oldest, certain = self._held.popleft()
        opened = certain or any(each for _, each in self._held)
        return [oldest if opened else np.zeros_like(oldest)]

    def release(self) -> list[Samples]:
        """The frames still held, when nothing is played any more or somebody is known to speak."""
        opened = any(certain for _, certain in self._held)
        out = [frame if opened else np.zeros_like(frame) for frame, _ in self._held]
        self._held.clear()
        return out
