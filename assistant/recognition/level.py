"""Samples -> how loud, how clean: level, noise floor, clipping, a picture as text, and what is wrong in a line each."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from assistant.domain.sound import RATE_HZ, Samples

FRAME = RATE_HZ // 50
"""Samples of a frame, 20 ms."""
LOWEST_DBFS = -100
CLIPPED = 32_700
"""Magnitude from which a sample counts as clipped; a converter that limits stops a little below full scale."""
BARS = " ▁▂▃▄▅▆▇█"
PICTURE_FLOOR_DBFS = -70
MOST_CLIPPED = 0.001
SILENT_DBFS = -60.0
"""Loudest frame below it: nothing reached the microphone."""
QUIET_DBFS = -40.0
LEAST_SNR_DB = 10.0
"""Speech less than this above the noise floor is heard badly (`python -m eval sound`)."""
TREBLE_HZ, BASS_HZ = 1000, 200
LEAST_TREBLE_DB = -30.0
"""Power above TREBLE_HZ against that above BASS_HZ; the seven synthetic voices of the bench lie at -5 to -23 dB, clean and in noise."""
NO_SPEECH = "There is sound, but no speech in it, as from a machine or music: bring the microphone to the mouth."
NO_WORDS = "There is speech in it, and no words were understood: speak one at a time, nearer the microphone."
_HERTZ = np.fft.rfftfreq(FRAME, 1 / RATE_HZ)
_WINDOW = np.hanning(FRAME)


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """Facts of a stretch of sound.

    dBFS, a full-scale square wave being 0: `speech_dbfs` the 95th percentile of the 20 ms frames, `noise_dbfs` the 10th,
    `peak_dbfs` the loudest frame; `clipped` the share of samples at full scale; `length_ms`; `treble_db` the power above
    TREBLE_HZ against all above BASS_HZ, 0.0 when nothing was measured.
    """

    speech_dbfs: float
    noise_dbfs: float
    peak_dbfs: float
    clipped: float
    length_ms: int
    treble_db: float = 0.0

    @property
    def snr_db(self) -> float:
        """How far speech stands above the noise floor."""
        return self.speech_dbfs - self.noise_dbfs


class Meter:
    """Takes blocks and keeps a histogram of frames in steps of 1 dB, so that hours cost no memory."""

    def __init__(self) -> None:
        """Nothing measured yet."""
        self._frames = np.zeros(1 - LOWEST_DBFS, dtype=np.int64)
        self._rest: Samples = np.zeros(0, dtype=np.int16)
        self._clipped = self._samples = 0
        self._treble = self._all = 0.0

    def add(self, samples: Samples) -> tuple[float, ...]:
        """Take a block; the level of each whole frame in it, dBFS."""
        self._samples += len(samples)
        self._clipped += int(np.count_nonzero(np.abs(samples.astype(np.int32)) >= CLIPPED))
        joined = np.concatenate((self._rest, samples))
        whole = len(joined) // FRAME * FRAME
        self._rest = joined[whole:]
        frames = joined[:whole].reshape(-1, FRAME)
        self._spectrum(frames)
        levels = tuple(dbfs(frame) for frame in frames)
        for level in levels:
            self._frames[round(level) - LOWEST_DBFS] += 1
        return levels

    def _spectrum(self, frames: Samples) -> None:
        power = (np.abs(np.fft.rfft(frames * _WINDOW, axis=1)) ** 2).sum(axis=0)
        self._treble += float(power[_HERTZ >= TREBLE_HZ].sum())
        self._all += float(power[_HERTZ >= BASS_HZ].sum())

    def level(self) -> Level:
        """The facts so far; silence when nothing was measured."""
        shares = np.cumsum(self._frames)
        total = int(shares[-1])

        def at(share: float) -> float:
            return float(np.searchsorted(shares, max(1, round(share * total))) + LOWEST_DBFS) if total else LOWEST_DBFS

        return Level(
            speech_dbfs=at(0.95),
            noise_dbfs=at(0.10),
            peak_dbfs=at(1.0),
            clipped=self._clipped / self._samples if self._samples else 0.0,
            length_ms=round(1000 * self._samples / RATE_HZ),
            treble_db=float(round(10 * np.log10(max(self._treble / self._all, 1e-10)))) if self._all else 0.0,
        )


def dbfs(samples: Samples) -> float:
    """Root mean square against full scale, dB, at least LOWEST_DBFS."""
    if not len(samples):
        return float(LOWEST_DBFS)
    power = float(np.mean(np.square(samples.astype(np.float64) / 32768)))
    return max(float(LOWEST_DBFS), 10 * float(np.log10(power))) if power > 0 else float(LOWEST_DBFS)


def level_of(blocks: Iterable[Samples]) -> Level:
    """The facts of all blocks."""
    meter = Meter()
    for block in blocks:
        meter.add(block)
    return meter.level()


def picture(levels: Iterable[float], width: int = 60) -> str:
    """Levels in dBFS over time as one line of bars, each the loudest of its stretch."""
    series = list(levels)
    if not series:
        return ""
    edges = np.linspace(0, len(series), min(width, len(series)) + 1).astype(int)
    return "".join(bar(max(series[a:b])) for a, b in zip(edges, edges[1:], strict=False))


def bar(level_dbfs: float) -> str:
    """One character for a level."""
    share = (level_dbfs - PICTURE_FLOOR_DBFS) / -PICTURE_FLOOR_DBFS
    return BARS[min(len(BARS) - 1, max(0, int(share * len(BARS))))]


def faults_of(level: Level, *, speech: bool | None = None) -> tuple[str, ...]:
    """What is wrong with the sound, worst first, with what to do; nothing for good sound.

    `speech`: whether any was found in it, None when nobody looked.
    """
    if level.peak_dbfs < SILENT_DBFS:
        return ("It is silent: nothing reached the microphone. Is it muted, or the wrong device?",)
    faults = [NO_SPEECH] if speech is False else []
    if level.clipped > MOST_CLIPPED:
        faults.append(
            f"It is clipped ({100 * level.clipped:.1f} % of the samples): turn the input down, or hold it further off."
        )
    if level.speech_dbfs < QUIET_DBFS:
        faults.append(f"It is very quiet ({level.speech_dbfs:.0f} dBFS): speak nearer, or turn the input up.")
    if level.treble_db < LEAST_TREBLE_DB:
        faults.append(f"It is muffled (hardly anything above {TREBLE_HZ} Hz): uncover the microphone, or take another.")
    if level.snr_db < LEAST_SNR_DB and speech is not False:
        faults.append(
            f"Speech hardly stands above the noise ({level.snr_db:.0f} dB): bring the microphone to the mouth."
        )
    return tuple(faults)
