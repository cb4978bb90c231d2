"""A sound file of any kind, rate and number of channels -> blocks of mono int16 at 16 kHz, never held whole in memory."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from assistant.domain.sound import RATE_HZ, Samples
from assistant.errors import SoundError

BLOCK_MS = 100
"""Length of a block: short enough for partial results, long enough that resampling costs nothing."""
FULL_SCALE = 32767
LONG_MS = 5 * 60 * 1000
"""From so long on, a file is announced: a spoken question lasts seconds."""
HINT = "Any WAV, FLAC, OGG or MP3 is taken, of any rate and number of channels."


class FileSource:
    """A sound file as a source of sound; channels are averaged, other rates are resampled (soxr)."""

    def __init__(self, path: Path) -> None:
        """Look at the file's head.

        Raises:
            SoundError: there is no such file, it is no sound, it is empty, or the `voice` extra is not installed.

        """
        try:
            import soundfile
        except (ImportError, OSError) as error:
            raise SoundError(f"Sound files cannot be read: {error}.", "Install the `voice` extra.") from error
        self.path = path
        self._library: Any = soundfile
        if not path.is_file():
            raise SoundError(f"There is no sound file {path}.", "Name a file that exists.")
        try:
            info = soundfile.info(str(path))
        except soundfile.LibsndfileError as error:
            reason = str(error.error_string).strip().rstrip(".")
            raise SoundError(f"{path.name} is no sound that can be read: {reason}.", HINT) from error
        if info.frames == 0:
            raise SoundError(f"{path.name} is empty: it holds no sound.", "Record it again.")
        self.rate_hz = int(info.samplerate)
        self.length_ms = round(1000 * info.frames / info.samplerate)

    def blocks(self) -> Iterator[Samples]:
        """Blocks of BLOCK_MS at RATE_HZ until the end, the last one shorter.

        Raises:
            SoundError: the file breaks off in a way that cannot be read over.

        """
        resample = Resampler(self.rate_hz)
        try:
            for piece in self._library.blocks(
                str(self.path), self.rate_hz * BLOCK_MS // 1000, dtype="float32", always_2d=True
            ):
                yield resample(piece.mean(axis=1), last=False)
        except self._library.LibsndfileError as error:
            raise SoundError(f"{self.path.name} breaks off: {error.error_string}", HINT) from error
        rest = resample(np.zeros(0, dtype=np.float32), last=True)
        if rest.size:
            yield rest


def long_note(source: FileSource, what: str) -> str:
    """A line for a file longer than LONG_MS, with what is done with it; "" for others."""
    if source.length_ms < LONG_MS:
        return ""
    return f"{source.path.name} lasts {source.length_ms // 60_000} min: {what}; Ctrl-C ends it."


class Resampler:
    """float32 (n,) in -1..1 at any rate -> int16 at RATE_HZ, block after block without seams."""

    def __init__(self, rate_hz: int) -> None:
        """Nothing is resampled where the rate is right already."""
        self._stream: Any = None
        if rate_hz != RATE_HZ:
            import soxr

            self._stream = soxr.ResampleStream(rate_hz, RATE_HZ, 1, dtype="float32")

    def __call__(self, block: NDArray[np.float32], *, last: bool) -> Samples:
        """The block resampled; `last` lets out what the filter still holds."""
        if self._stream is not None:
            block = self._stream.resample_chunk(np.ascontiguousarray(block), last)
        return to_int16(block)


def to_int16(block: NDArray[np.float32]) -> Samples:
    """float32 in -1..1 -> int16; what is beyond is clipped, what is no number is silence."""
    return np.rint(np.clip(np.nan_to_num(block), -1.0, 1.0) * FULL_SCALE).astype(np.int16)
