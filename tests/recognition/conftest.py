import shutil
import subprocess

import numpy as np
import pytest

from assistant.recognition.sound_files import FileSource
from assistant.rendering.voice_piper import PiperSpeaker, packaged_voice


def by_espeak(folder, text, voice, pace="130"):
    path = folder / "said.wav"
    subprocess.run(["espeak-ng", "-v", voice, "-s", pace, "-w", str(path), "--", text], check=True, timeout=30)
    return np.concatenate(list(FileSource(path).blocks()))


@pytest.fixture(scope="session")
def speak(tmp_path_factory):
    """Text -> int16 at 16 kHz, by the packaged voice."""
    from assistant.recognition.sound_files import Resampler

    voice = packaged_voice()
    if voice is None:
        pytest.skip("the packaged voice is not installed")
    speaker = PiperSpeaker(voice)

    def said(text):
        sounds = list(speaker.speak(text, 1.0))
        whole = np.concatenate([s.samples for s in sounds]).astype(np.float32) / np.float32(32768)
        resample = Resampler(sounds[0].rate_hz)
        return np.concatenate((resample(whole, last=False), resample(np.zeros(0, dtype=np.float32), last=True)))

    yield said
    speaker.close()


@pytest.fixture(scope="session")
def voice_sound(speak):
    return speak("The film snaps at the corner of the pallet.")


@pytest.fixture(scope="session")
def korean(tmp_path_factory):
    """Korean text -> int16 at 16 kHz, by a system voice."""
    if shutil.which("espeak-ng") is None:
        pytest.skip("espeak-ng is not installed")
    folder = tmp_path_factory.mktemp("korean")
    return lambda text: by_espeak(folder, text, "ko", "120")
