import numpy as np
import pytest

from assistant.domain.sound import RATE_HZ
from assistant.errors import SoundError
from assistant.recognition.sound_files import BLOCK_MS, FileSource, to_int16

soundfile = pytest.importorskip("soundfile")


def tone(rate_hz, seconds=1.0, hertz=440.0, loud=0.5):
    return (loud * np.sin(2 * np.pi * hertz * np.arange(round(rate_hz * seconds)) / rate_hz)).astype(np.float32)


@pytest.mark.parametrize("rate_hz", [8_000, 11_025, 16_000, 22_050, 44_100, 48_000, 96_000])
@pytest.mark.parametrize("kind", ["PCM_16", "PCM_U8", "PCM_24", "FLOAT"])
def test_any_rate_and_depth_comes_as_the_same_tone(tmp_path, rate_hz, kind):
    soundfile.write(tmp_path / "a.wav", tone(rate_hz), rate_hz, subtype=kind)
    heard = np.concatenate(list(FileSource(tmp_path / "a.wav").blocks()))
    assert heard.dtype == np.int16 and abs(len(heard) - RATE_HZ) <= 2
    spectrum = np.abs(np.fft.rfft(heard.astype(float)))
    assert abs(np.argmax(spectrum) * RATE_HZ / len(heard) - 440) < 2
    assert np.sqrt(np.mean(heard[2000:-2000].astype(float) ** 2)) == pytest.approx(0.5 / np.sqrt(2) * 32767, rel=0.02)


@pytest.mark.parametrize("name", ["a.flac", "a.ogg", "a.mp3"])
def test_compressed_files_are_sound_too(tmp_path, name):
    soundfile.write(tmp_path / name, tone(44_100), 44_100)
    assert sum(map(len, FileSource(tmp_path / name).blocks())) == pytest.approx(RATE_HZ, rel=0.15)


def test_channels_are_averaged(tmp_path):
    left, right = tone(16_000, loud=0.4), np.zeros(16_000, dtype=np.float32)
    soundfile.write(tmp_path / "a.wav", np.stack([left, right, left, right], axis=1), 16_000)
    heard = np.concatenate(list(FileSource(tmp_path / "a.wav").blocks()))
    assert np.abs(heard).max() == pytest.approx(0.4 / 2 * 32767, rel=0.01)


def test_a_file_that_is_not_there_is_said(tmp_path):
    with pytest.raises(SoundError, match="no sound file"):
        FileSource(tmp_path / "none.wav")


@pytest.mark.parametrize(
    "content", [b"", b"hello, this is text", b"\x89PNG\r\n\x1a\n" + bytes(100), b"RIFF\x00\x00\x00\x00WAVE"]
)
def test_a_file_that_is_no_sound_is_said(tmp_path, content):
    (tmp_path / "a.wav").write_bytes(content)
    with pytest.raises(SoundError) as caught:
        list(FileSource(tmp_path / "a.wav").blocks())
    assert "a.wav" in caught.value.message and caught.value.hint


def test_a_file_without_samples_is_empty(tmp_path):
    soundfile.write(tmp_path / "a.wav", np.zeros(0), 16_000)
    with pytest.raises(SoundError, match="empty"):
        FileSource(tmp_path / "a.wav")


def test_a_file_cut_in_the_middle_gives_what_is_there(tmp_path):
    soundfile.write(tmp_path / "a.wav", tone(16_000, 2.0), 16_000)
    (tmp_path / "b.wav").write_bytes((tmp_path / "a.wav").read_bytes()[:32_044])
    assert sum(map(len, FileSource(tmp_path / "b.wav").blocks())) == 16_000


def test_two_hours_are_never_held_whole(tmp_path):
    import tracemalloc

    with soundfile.SoundFile(tmp_path / "long.wav", "w", samplerate=8_000, channels=1, subtype="PCM_U8") as file:
        for _ in range(120):
            file.write(np.zeros(8_000 * 60, dtype=np.int16))
    source = FileSource(tmp_path / "long.wav")
    assert source.length_ms == 2 * 3600 * 1000
    blocks = source.blocks()
    tracemalloc.start()
    total = sum(len(next(blocks)) for _ in range(6_000))
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert total == pytest.approx(600 * RATE_HZ, rel=0.01)  # 6000 blocks of 100 ms
    assert peak < 1_000_000  # those ten minutes whole would be 600 * 16000 * 2 bytes = 19 MB


def test_a_block_is_a_tenth_of_a_second(tmp_path):
    soundfile.write(tmp_path / "a.wav", tone(16_000), 16_000)
    assert {len(b) for b in FileSource(tmp_path / "a.wav").blocks()} == {RATE_HZ * BLOCK_MS // 1000}


def test_what_is_no_number_is_silence_and_what_is_too_loud_is_full_scale():
    values = np.array([np.nan, np.inf, -np.inf, 2.0, -2.0, 0.5], dtype=np.float32)
    assert to_int16(values).tolist() == [0, 32767, -32767, 32767, -32767, round(0.5 * 32767)]
