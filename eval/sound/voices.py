"""Text -> speech of several synthetic voices, kept in the cache; a voice whose engine is not installed is left out."""

from __future__ import annotations

import hashlib
import shutil
import subprocess
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from assistant.domain.sound import RATE_HZ, Samples
from assistant.recognition.sound_files import FileSource, Resampler
from assistant.rendering.voice_piper import PiperSpeaker, packaged_voice

ESPEAK = {"espeak-gb": ("en-gb", "150"), "espeak-us": ("en-us+m3", "150"), "espeak-f": ("en-gb-x-rp+f3", "145")}
FLITE = {"flite-slt": "slt", "flite-rms": "rms", "flite-awb": "awb"}
JUDGED = ("piper", "flite-slt", "flite-rms")
"""Voices that the bars hold for: they are built from recordings of people; formant voices are reported beside them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Voice:
    """A voice by its name, and what makes its sound."""

    name: str
    make: Callable[[str], Samples]


class VoiceBox:
    """The voices of this machine, with a cache of what they have said."""

    def __init__(self, cache: Path) -> None:
        """`cache`: a folder of this machine; nothing of it is ever committed."""
        self._cache = cache
        self._piper: PiperSpeaker | None = None
        self.voices = tuple(self._installed())
        self.missing = tuple(n for n in ("piper", *FLITE, *ESPEAK) if n not in {v.name for v in self.voices})

    def say(self, name: str, text: str) -> Samples:
        """The text in a voice, int16 at RATE_HZ."""
        path = self._cache / name / f"{hashlib.sha256(text.encode()).hexdigest()[:24]}.npy"
        if path.is_file():
            return np.asarray(np.load(path), dtype=np.int16)
        sound = next(v for v in self.voices if v.name == name).make(text)
        path.parent.mkdir(parents=True, exist_ok=True)
        np.save(path, sound)
        return sound

    def close(self) -> None:
        """End what was started."""
        if self._piper is not None:
            self._piper.close()

    def _installed(self) -> Iterator[Voice]:
        if packaged_voice() is not None:
            yield Voice(name="piper", make=self._by_piper)
        if shutil.which("flite"):
            for name, voice in FLITE.items():
                yield Voice(name=name, make=lambda text, v=voice: _by_flite(text, v))  # type: ignore[misc]
        if shutil.which("espeak-ng"):
            for name, (voice, rate) in ESPEAK.items():
                yield Voice(name=name, make=lambda text, v=voice, r=rate: _by_espeak(text, v, r))  # type: ignore[misc]

    def _by_piper(self, text: str) -> Samples:
        if self._piper is None:
            path = packaged_voice()
            assert path is not None
            self._piper = PiperSpeaker(path)
        sounds = list(self._piper.speak(text, 1.0))
        whole = np.concatenate([s.samples for s in sounds]).astype(np.float32) / np.float32(32768)
        resample = Resampler(sounds[0].rate_hz)
        return np.concatenate((resample(whole, last=False), resample(np.zeros(0, dtype=np.float32), last=True)))


def _by_flite(text: str, voice: str) -> Samples:
    return _by_program(lambda path: ["flite", "-voice", voice, "-t", text, "-o", path])


def _by_espeak(text: str, voice: str, rate: str) -> Samples:
    return _by_program(lambda path: ["espeak-ng", "-v", voice, "-s", rate, "-w", path, "--", text])


def _by_program(command: Callable[[str], list[str]]) -> Samples:
    with tempfile.TemporaryDirectory() as scratch:
        path = Path(scratch) / "said.wav"
        subprocess.run(command(str(path)), check=True, capture_output=True, timeout=60)
        return np.concatenate(list(FileSource(path).blocks()))


def length_s(samples: Samples) -> float:
    """Seconds of sound."""
    return len(samples) / RATE_HZ
