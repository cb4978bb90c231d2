import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.domain.sound import Sound
from assistant.rendering.playback import Playback, resampled


def sound(values, rate_hz=16_000):
    return Sound(samples=np.array(values, dtype=np.int16), rate_hz=rate_hz)


@given(
    st.lists(st.lists(st.integers(-32768, 32767), max_size=50), max_size=6),
    st.lists(st.integers(1, 40), min_size=1, max_size=30),
)
def test_what_is_put_comes_out_in_order_and_then_silence(parts, takes):
    playback = Playback(16_000)
    for part in parts:
        playback.put(sound(part))
    wanted = [value for part in parts for value in part]
    got = [int(value) for count in takes for value in playback.take(count)]
    assert got == (wanted + [0] * len(got))[: len(got)]


def test_what_is_cleared_is_not_heard():
    playback = Playback(16_000)
    playback.put(sound([1, 2, 3, 4]))
    playback.take(2)
    playback.clear()
    assert playback.empty and list(playback.take(2)) == [0, 0]


def test_the_volume_multiplies_and_holds_at_the_largest_sample():
    playback = Playback(16_000)
    playback.put(sound([100, -100, 30_000, -30_000]))
    playback.volume = 2.0
    assert list(playback.take(4)) == [200, -200, 32767, -32767]


def test_what_was_heard_is_what_was_taken_newest_last():
    playback = Playback(1000, kept_ms=4)
    playback.put(sound([1, 2, 3], 1000))
    playback.take(5)
    assert list(playback.heard()) == [2, 3, 0, 0]


@pytest.mark.parametrize("rate_hz", [8000, 16_000, 22_050, 44_100, 48_000])
def test_another_rate_keeps_length_and_pitch(rate_hz):
    tone = (10_000 * np.sin(2 * np.pi * 440 * np.arange(rate_hz) / rate_hz)).astype(np.int16)
    out = resampled(tone, rate_hz, 16_000)
    assert len(out) == 16_000
    assert int(np.argmax(np.abs(np.fft.rfft(out)))) == 440
