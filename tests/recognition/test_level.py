import numpy as np
import pytest

from assistant.domain.sound import RATE_HZ
from assistant.recognition.level import BARS, FRAME, Meter, dbfs, faults_of, level_of, picture


def noise(loud, seconds=1.0, seed=0):
    return np.clip(np.random.default_rng(seed).normal(0, loud * 32768, round(RATE_HZ * seconds)), -32768, 32767).astype(
        np.int16
    )


def test_a_square_wave_at_half_scale_is_six_decibels_below_full_scale():
    square = np.where(np.arange(1600) % 100 < 50, 16384, -16384).astype(np.int16)
    assert dbfs(square) == pytest.approx(20 * np.log10(0.5), abs=0.01)


def test_speech_and_noise_floor_are_told_apart():
    sound = np.concatenate([noise(0.001), noise(0.1), noise(0.001)])
    level = level_of([sound])
    assert level.noise_dbfs == pytest.approx(20 * np.log10(0.001), abs=1)
    assert level.speech_dbfs == pytest.approx(20 * np.log10(0.1), abs=1)
    assert level.length_ms == 3000 and level.clipped == 0.0
    assert faults_of(level) == ()


def test_blocks_of_any_size_give_the_same_level():
    sound = np.concatenate([noise(0.01, 0.7), noise(0.2, 0.33)])
    whole = level_of([sound])
    assert level_of(np.array_split(sound, 37)) == whole


@pytest.mark.parametrize(
    ("sound", "word"),
    [
        (np.zeros(RATE_HZ, dtype=np.int16), "silent"),
        (noise(2.0), "clipped"),
        (np.concatenate([noise(0.0001), noise(0.003)]), "quiet"),
        (noise(0.1), "noise"),
    ],
)
def test_what_is_wrong_is_said(sound, word):
    assert any(word in fault for fault in faults_of(level_of([sound])))


def test_nothing_at_all_is_silent():
    assert "silent" in faults_of(Meter().level())[0]


def test_the_picture_shows_where_it_is_loud():
    meter = Meter()
    levels = meter.add(np.concatenate([np.zeros(50 * FRAME, dtype=np.int16), noise(0.5, 1.0)]))
    line = picture(levels, 10)
    assert len(line) == 10 and line[:5] == BARS[0] * 5 and set(line[5:]) <= set(BARS[-2:])
    assert picture([]) == ""
