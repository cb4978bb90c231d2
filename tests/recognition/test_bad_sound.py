"""Sound that is no good, through the real voice-activity model: each kind is one line that says what is wrong and what to do."""

import numpy as np
import pytest
from typer.testing import CliRunner

from assistant import audio_cli
from assistant.audio_cli import audio_app
from assistant.domain.sound import RATE_HZ
from assistant.errors import SoundError

soundfile = pytest.importorskip("soundfile")
pytestmark = pytest.mark.engine
CHORDS = ((220.0, 277.2, 329.6), (196.0, 246.9, 293.7), (174.6, 220.0, 261.6), (164.8, 207.7, 246.9))


def music(seconds=8):
    """Struck chords of four partials a note, and a beat."""
    chance, beat = np.random.default_rng(1), np.zeros(RATE_HZ // 2)
    time = np.arange(len(beat)) / RATE_HZ
    beat[: RATE_HZ // 8] = (0.3 * np.exp(-30 * time) * np.sin(2 * np.pi * 60 * time))[: RATE_HZ // 8]
    beat[4000:4800] += 0.1 * chance.standard_normal(800) * np.exp(-np.arange(800) / 200)

    def struck(chord):
        notes = sum(0.08 / k * np.sin(2 * np.pi * k * hertz * time) for hertz in chord for k in (1, 2, 3, 4))
        return beat + np.exp(-3 * time) * notes

    return np.concatenate([struck(CHORDS[place // 4 % 4]) for place in range(2 * seconds)])


def low_passed(sound, hertz):
    spectrum = np.fft.rfft(sound)
    spectrum[np.fft.rfftfreq(len(sound), 1 / RATE_HZ) > hertz] = 0
    return np.fft.irfft(spectrum, len(sound))


def measured(folder, sound, rate_hz=RATE_HZ):
    soundfile.write(folder / "a.wav", np.clip(sound, -1, 1), rate_hz)
    done = CliRunner().invoke(audio_app, ["test", str(folder / "a.wav")])
    assert done.exit_code == 0, done.output
    return done.output.splitlines()


@pytest.fixture
def spoken(voice_sound):
    pause = np.zeros(RATE_HZ // 2)
    return np.concatenate([pause, voice_sound / 32768, pause])


def test_good_speech_is_good(tmp_path, spoken):
    assert measured(tmp_path, spoken)[-1] == "Good."


def test_speech_at_the_rate_of_a_telephone_is_good(tmp_path, spoken):
    assert measured(tmp_path, spoken[::2], RATE_HZ // 2)[-1] == "Good."


@pytest.mark.parametrize(
    ("spoil", "said", "do"),
    [
        (lambda s: s * 30, "clipped", "turn the input down"),
        (lambda s: s * 0.004, "very quiet", "speak nearer"),
        (lambda s: low_passed(s, 300), "muffled", "uncover the microphone"),
        (lambda s: s * 0, "silent", "muted"),
        (lambda s: s + np.random.default_rng(0).normal(0, 0.12, len(s)), "hardly stands above", "to the mouth"),
    ],
)
def test_spoilt_speech_says_how_and_what_to_do(tmp_path, spoken, spoil, said, do):
    last = measured(tmp_path, spoil(spoken))[-1]
    assert said in last and do in last


@pytest.mark.parametrize("sound", [music(), np.random.default_rng(2).normal(0, 0.05, 5 * RATE_HZ)])
def test_sound_without_speech_is_told_as_that_and_nothing_else(tmp_path, sound):
    lines = measured(tmp_path, sound)
    assert "no speech" in lines[-1] and "to the mouth" in lines[-1]
    assert not any("above the noise" in line for line in lines)


def test_without_the_model_that_tells_speech_the_level_is_told(tmp_path, monkeypatch):
    monkeypatch.setattr(audio_cli, "_speech_finder", lambda: None)
    assert measured(tmp_path, music())[-1] == "Good."


def test_a_long_file_is_announced_before_it_is_measured(tmp_path):
    with soundfile.SoundFile(tmp_path / "a.wav", "w", samplerate=8_000, channels=1, subtype="PCM_U8") as file:
        for _ in range(6):
            file.write(np.zeros(8_000 * 60, dtype=np.int16))
    done = CliRunner().invoke(audio_app, ["test", str(tmp_path / "a.wav")])
    first = done.output.splitlines()[0]
    assert first == "note: a.wav lasts 6 min: it is measured from start to end; Ctrl-C ends it."
    assert "silent" in done.output.splitlines()[-1]


def test_what_is_no_sound_is_refused(tmp_path):
    (tmp_path / "a.wav").write_text("no sound at all")
    done = CliRunner().invoke(audio_app, ["test", str(tmp_path / "a.wav")])
    assert isinstance(done.exception, SoundError) and "no sound that can be read" in done.exception.message
