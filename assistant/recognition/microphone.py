"""A microphone -> blocks of mono int16 at 16 kHz; the library is imported only when one is opened."""

from __future__ import annotations

import queue
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from assistant.domain.sound import RATE_HZ, Samples, Sound
from assistant.errors import SoundError
from assistant.recognition.sound_files import Resampler

BLOCK_S = 0.05
SILENT_AFTER_S = 3.0
"""A microphone that delivers nothing for so long is taken for unplugged; PortAudio tells no more than that."""
MOST_WAITING = 400
"""Blocks that wait to be taken, 20 s; beyond it the oldest are dropped, so that a program that hangs eats no memory."""
HINT = "Type instead; `handlamp audio devices` lists the microphones."
GONE_HINT = "Type on; plug it in and start again to be heard."
_REASONS = (
    ("unavailable", "it is busy: another program has it"),
    ("busy", "it is busy: another program has it"),
    ("sample rate", "it takes no rate that it was asked for"),
    ("querying device -1", "there is none"),
    ("querying device", "there is none of that number"),
    ("no input device matching", "there is none of that name"),
    ("no output device matching", "there is none of that name"),
    ("not an input device", "it only plays"),
    ("not an output device", "it only records"),
    ("number of channels", "it has no channel for that"),
    ("multiple", "several have that name; give its number"),
)
"""What PortAudio and its library write, in small letters -> what that means for the user."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Device:
    """A sound device: how many channels it records and plays, its own rate, whether it is the default input."""

    index: int
    name: str
    inputs: int
    outputs: int
    rate_hz: int
    default_input: bool


def load_library() -> Any:
    """The sounddevice library.

    Raises:
        SoundError: it, or PortAudio, is not installed.

    """
    try:
        import sounddevice
    except (ImportError, OSError) as error:
        hint = "Install the `voice` extra and PortAudio (libportaudio2); typing and sound files work without."
        raise SoundError(f"There is no access to sound devices: {error}.", hint) from error
    return sounddevice


def devices(library: Any = None) -> tuple[Device, ...]:
    """Every sound device of this machine.

    Raises:
        SoundError: PortAudio is missing or fails.

    """
    library = library or load_library()
    try:
        found, default = library.query_devices(), library.default.device[0]
    except library.PortAudioError as error:
        raise SoundError(f"The sound devices cannot be listed: {error}.", HINT) from error
    return tuple(
        Device(
            index=index,
            name=str(d["name"]),
            inputs=int(d["max_input_channels"]),
            outputs=int(d["max_output_channels"]),
            rate_hz=round(float(d["default_samplerate"])),
            default_input=index == default,
        )
        for index, d in enumerate(found)
    )


class Microphone:
    """An open microphone as a source of sound; `close` ends its blocks."""

    def __init__(self, device: str | int | None = None, library: Any = None) -> None:
        """Open the default input, or the one named; `library` stands in for sounddevice in tests.

        Raises:
            SoundError: there is none, it is busy, or PortAudio is missing.

        """
        self._library = library or load_library()
        device = numbered(device)
        self._blocks: queue.Queue[tuple[NDArray[np.float32], Sound | None] | None] = queue.Queue(MOST_WAITING)
        self._open = True
        self.dropped = 0
        self.played: Callable[[], Sound | None] = lambda: None
        """Asked as each block comes in, before a busy machine lets it wait: what the loudspeaker has just played."""
        self.played_then: Sound | None = None
        """The answer for the block that was yielded last."""
        try:
            facts = self._library.query_devices(device, "input")
            self.name = str(facts["name"])
            self.rate_hz = self._rate(device, round(float(facts["default_samplerate"])))
            self._stream: Any = self._library.InputStream(
                samplerate=self.rate_hz,
                channels=1,
                dtype="float32",
                device=device,
                blocksize=round(self.rate_hz * BLOCK_S),
                callback=self._take,
            )
            self._stream.start()
        except (self._library.PortAudioError, ValueError) as error:
            named = f"the microphone `{device}`" if device is not None else "a microphone"
            raise SoundError(f"Nothing can be heard through {named}: {reason_of(error)}.", HINT) from error

    def _rate(self, device: str | int | None, own: int) -> int:
        """RATE_HZ where the device can give it, else its own, which is resampled."""
        try:
            self._library.check_input_settings(device=device, channels=1, dtype="float32", samplerate=RATE_HZ)
        except self._library.PortAudioError:
            return own
        return RATE_HZ

    def _take(self, data: NDArray[np.float32], frames: int, time: Any, status: Any) -> None:
        """Called by PortAudio from its own thread: keep the block and return."""
        if self._blocks.full():
            self.dropped += 1
            self._blocks.get_nowait()
        self._blocks.put_nowait((data[:, 0].copy(), self.played()))

    def blocks(self) -> Iterator[Samples]:
        """Blocks at RATE_HZ until `close`.

        Raises:
            SoundError: nothing came for SILENT_AFTER_S: it was unplugged.

        """
        resample = Resampler(self.rate_hz)
        while self._open:
            try:
                block = self._blocks.get(timeout=SILENT_AFTER_S)
            except queue.Empty:
                self.close()
                raise SoundError(
                    f"The microphone {self.name} gives no more sound: was it unplugged?", GONE_HINT
                ) from None
            if block is not None:
                samples = resample(block[0], last=False)
                self.played_then = block[1]
                if samples.size:
                    yield samples

    def close(self) -> None:
        """Give the device back."""
        if not self._open:
            return
        self._open = False
        if self._blocks.full():
            self._blocks.get_nowait()
        self._blocks.put_nowait(None)
        try:
            self._stream.abort()
            self._stream.close()
        except self._library.PortAudioError:
            return  # the device is gone already


def numbered(device: str | int | None) -> str | int | None:
    """A device named by its number in the list is that number."""
    return int(device) if isinstance(device, str) and device.isdecimal() else device


def reason_of(error: Exception) -> str:
    """Why a device cannot be opened, in plain words; what the library wrote where that is not known."""
    text = str(error).strip().splitlines()[0].rstrip(".:") if str(error).strip() else ""
    return next((plain for part, plain in _REASONS if part in text.lower()), text or "there is none")
