"""Seeds -> the noise of a machine hall and its reverberation, made and not recorded; speech and noise mixed at a ratio."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from assistant.domain.sound import RATE_HZ, Samples

Wave = NDArray[np.float64]
REVERBERATION_S = 0.6
"""Time in which the sound of a hall falls by 60 dB; large halls with hard walls reach more (from memory)."""
DIRECT_TO_REVERBERANT_DB = 12.0
"""A microphone near the mouth hears far more of the voice than of the hall; an assumption."""
IMPACTS_A_SECOND = 1.5
COMPRESSOR_S = 3.0


def hall_noise(count: int, seed: int) -> Wave:
    """`count` samples of broadband noise falling 6 dB an octave, 50 and 100 Hz hum, impacts, a compressor that comes and goes."""
    chance = np.random.default_rng(seed)
    time = np.arange(count) / RATE_HZ
    spectrum = np.fft.rfft(chance.standard_normal(count))
    hertz = np.fft.rfftfreq(count, 1 / RATE_HZ)
    broadband = _unit(np.fft.irfft(spectrum / np.sqrt(1 + (hertz / 300.0) ** 2), count))
    hum = sum(loud * np.sin(2 * np.pi * f * time + chance.uniform(0, 6.28)) for f, loud in ((50, 0.5), (100, 0.4)))
    impacts = np.zeros(count)
    for _ in range(max(1, round(IMPACTS_A_SECOND * count / RATE_HZ))):
        start = int(chance.integers(0, count))
        length = min(count - start, RATE_HZ // 8)
        ring = np.exp(-np.arange(length) / (0.015 * RATE_HZ)) * chance.standard_normal(length)
        impacts[start : start + length] += chance.uniform(1.0, 4.0) * ring
    cycle = 0.5 + 0.5 * np.sign(np.sin(2 * np.pi * time / COMPRESSOR_S + chance.uniform(0, 6.28)))
    compressor = cycle * np.sin(2 * np.pi * 24.5 * time) * np.abs(np.sin(2 * np.pi * 12.25 * time)) * 2
    return _unit(broadband + hum + impacts + 0.5 * compressor)


def reverberated(speech: Wave, seed: int) -> Wave:
    """The speech with an exponentially falling tail of noise as the room's answer, of the same length."""
    chance = np.random.default_rng(seed)
    length = int(REVERBERATION_S * RATE_HZ)
    tail = chance.standard_normal(length) * 10 ** (-3 * np.arange(length) / length)
    tail[: RATE_HZ // 200] = 0.0
    tail *= 10 ** (-DIRECT_TO_REVERBERANT_DB / 20) / np.sqrt(np.sum(tail**2))
    tail[0] = 1.0
    size = len(speech) + length
    answer = np.fft.irfft(np.fft.rfft(speech, size) * np.fft.rfft(tail, size), size)
    return answer[: len(speech)]


def in_hall(speech: Samples, snr_db: float | None, seed: int, lead_ms: int = 500) -> Samples:
    """Speech with `lead_ms` of the place before and after it; None is clean: no noise, no reverberation.

    The ratio is that of the powers of speech, where it speaks, and noise (ITU-T P.56 in spirit: pauses do not count).
    """
    pad = np.zeros(RATE_HZ * lead_ms // 1000)
    voice = np.concatenate((pad, speech.astype(np.float64) / 32768, pad))
    voice *= 0.1 / max(1e-9, _active_level(voice))
    if snr_db is not None:
        voice = reverberated(voice, seed)
        voice = voice + hall_noise(len(voice), seed + 1) * _active_level(voice) * 10 ** (-snr_db / 20)
    return np.asarray(np.clip(np.rint(voice * 32767), -32768, 32767), dtype=np.int16)


def _active_level(wave: Wave) -> float:
    """Root mean square of the 20 ms frames within 20 dB of the loudest."""
    frames = wave[: len(wave) // 320 * 320].reshape(-1, 320)
    power = np.mean(frames**2, axis=1)
    active = power[power >= 0.01 * max(power.max(initial=0.0), 1e-12)]
    return float(np.sqrt(active.mean())) if active.size else 0.0


def _unit(wave: Wave) -> Wave:
    return np.asarray(wave / max(1e-12, np.sqrt(np.mean(wave**2))))
