"""The gate against synthetic halls: an echo alone never opens it, a person over the echo does, soon."""

import numpy as np
import pytest

from assistant.domain.sound import Sound
from assistant.talk.own_voice import FRAME, OwnVoice, OwnVoiceGate

RATE = 16_000


def voice(seconds, seed, pitch=120):
    """Speech-like: harmonics under moving formants, in syllables of 150 to 300 ms with gaps."""
    chance = np.random.default_rng(seed)
    count = int(seconds * RATE)
    t = np.arange(count) / RATE
    glide = 2 * np.pi * np.cumsum(pitch * (1 + 0.1 * np.sin(2 * np.pi * 0.7 * t + seed))) / RATE
    out, at = np.zeros(count), 0
    while at < count:
        length = int(chance.integers(2400, 4800))
        part = slice(at, min(count, at + length))
        formants = [chance.uniform(300, 800), chance.uniform(900, 2200), chance.uniform(2300, 3300)]
        for k in range(1, 34):
            gain = sum(1 / (1 + ((k * pitch - f) / 300) ** 2) for f in formants) / np.sqrt(k)
            out[part] += gain * np.sin(k * glide[part])
        out[part] *= np.hanning(part.stop - part.start)
        at += length + int(chance.integers(0, 2400))
    return out / np.abs(out).max()


def hall(sound, delay_ms, gain, seed, decay_s=0.25):
    """The sound as it comes back: late, with a decaying tail of reflections and a colour of its own."""
    chance = np.random.default_rng(seed)
    tail = chance.standard_normal(int(decay_s * RATE)) * np.exp(-np.arange(int(decay_s * RATE)) / (decay_s * RATE / 5))
    response = np.zeros(int(delay_ms * RATE / 1000) + len(tail))
    response[int(delay_ms * RATE / 1000)] = 1.0
    response[-len(tail) :] += 0.15 * tail
    size = len(sound) + len(response)
    return gain * np.fft.irfft(np.fft.rfft(sound, size) * np.fft.rfft(response, size), size)[: len(sound)]


def noise(seconds, level, seed):
    return level * np.random.default_rng(seed).standard_normal(int(seconds * RATE))


def decided(microphone, played, own=None):
    """Foreign or not of each frame, as the gate is fed in a conversation: with the last second that was played."""
    own = own or OwnVoice()
    mic = np.clip(12_000 * microphone, -32768, 32767).astype(np.int16)
    out = np.clip(12_000 * played, -32768, 32767).astype(np.int16)
    found = []
    for at in range(0, len(mic) - FRAME, FRAME):
        heard = out[max(0, at + FRAME - RATE) : at + FRAME]
        found.append(own.is_foreign(mic[at : at + FRAME], Sound(samples=heard)))
    return np.array(found)


HALLS = [(20, 0.05, 0.0), (60, 0.3, 0.0), (150, 0.8, 0.002), (300, 0.3, 0.02), (60, 0.5, 0.05), (450, 1.0, 0.01)]
"""Delay in ms, loudness of what comes back, level of a steady noise beside a voice whose peaks are 1."""
SEEDS = (1, 2, 3)


@pytest.mark.parametrize(("delay_ms", "gain", "level"), HALLS)
def test_the_own_voice_alone_never_opens_the_gate(delay_ms, gain, level):
    for seed in SEEDS:
        played, own = voice(8, seed), OwnVoice()
        found = decided(hall(played, delay_ms, gain, seed) + noise(8, level, seed), played, own)
        assert not found.any(), seed
        assert own.late is not None and abs(own.late - delay_ms / 32) <= 1.5


@pytest.mark.parametrize(("delay_ms", "gain", "level"), HALLS)
def test_a_person_louder_than_the_own_voice_opens_it_soon(delay_ms, gain, level):
    for seed in SEEDS:
        played = voice(7, seed)
        person = np.zeros_like(played)
        person[4 * RATE :] = max(1.0, 2 * gain) * voice(3, seed + 10, pitch=170)
        found = decided(hall(played, delay_ms, gain, seed) + noise(7, level, seed) + person, played)
        assert not found[: 4 * RATE // FRAME].any()
        assert found[4 * RATE // FRAME :].any(), seed


def test_without_anything_played_everything_is_let_through():
    own = OwnVoice()
    silent = Sound(samples=np.zeros(RATE, dtype=np.int16))
    assert own.is_foreign(np.full(FRAME, 500, dtype=np.int16), silent)


def test_the_gate_gives_each_frame_once_in_order_and_silence_for_the_own_voice():
    class Twin:
        """Foreign is what is odd."""

        def is_foreign(self, frame, played):
            return bool(frame[0] % 2)

    gate, nothing = OwnVoiceGate(Twin(), ahead=3), Sound(samples=np.zeros(0, dtype=np.int16))
    values = [2, 4, 6, 11, 13, 15, 10, 12, 14, 16, 17, 19, 18, 20, 22, 24]
    out = [part for value in values for part in gate.frames(np.full(4, value, dtype=np.int16), nothing)]
    out += gate.release()
    assert [int(part[0]) for part in out] == [2, 4, 6, 11, 13, 15, 0, 12, 14, 16, 17, 19, 0, 0, 0, 0]


def test_what_was_nobody_makes_it_harder_to_open_and_a_loud_person_still_does():
    played = voice(7, 1)
    person = np.zeros_like(played)
    person[4 * RATE :] = 2.0 * voice(3, 11, pitch=170)
    microphone = hall(played, 60, 0.3, 1) + person
    fresh, warned = OwnVoice(), OwnVoice()
    for _ in range(9):
        warned.mistaken()
    before, after = decided(microphone, played, fresh), decided(microphone, played, warned)
    assert after[4 * RATE // FRAME :].any() and after.sum() < before.sum()
    assert not (after & ~before)[: np.flatnonzero(after)[0]].any()
