"""A virtual hall of PulseAudio null sinks: what the loudspeaker plays and what a mouth says both reach the microphone."""

from __future__ import annotations

import os
import shutil
import subprocess
import time
from pathlib import Path
from threading import Thread

import numpy as np

from assistant.domain.sound import Samples

NEEDED = ("pulseaudio", "pactl", "paplay", "parec")
LOUD, MOUTH, ROOM = "loud", "mouth", "room"
RATE_HZ = 48_000
ASOUND = "pcm.!default { type pulse }\nctl.!default { type pulse }\n"
START_S = 10.0
PIECE = RATE_HZ // 50
"""Samples of a piece of tape, 20 ms."""
AUDIBLE = 300.0
"""Root mean square of a piece above which something is being said."""


def missing() -> str:
    """Why there can be no virtual hall; "" when there can."""
    absent = [name for name in NEEDED if shutil.which(name) is None]
    if absent:
        return f"{', '.join(absent)} not installed (Debian: pulseaudio, pulseaudio-utils)"
    plugin = list(Path("/usr/lib").glob("*/alsa-lib/libasound_module_pcm_pulse.so"))
    return "" if plugin else "ALSA's plugin for PulseAudio is not installed (Debian: libasound2-plugins)"


class VirtualHall:
    """A sound server of its own in a folder of its own; ended when the block is left."""

    def __init__(self, folder: Path, *, echo_db: float = 0.0, room_hz: int = RATE_HZ) -> None:
        """`echo_db`: how loud the loudspeaker comes back into the microphone, beside what it plays; `room_hz`: its rate."""
        self._folder, self._echo_db, self._room_hz = folder, echo_db, room_hz
        run = folder / "run"
        run.mkdir(mode=0o700, parents=True)
        (folder / "asound.conf").write_text(ASOUND, encoding="utf-8")
        self._socket = run / "native"
        self.environment = {
            **os.environ,
            "XDG_RUNTIME_DIR": str(run),
            "PULSE_SERVER": f"unix:{self._socket}",
            "PULSE_SINK": LOUD,
            "PULSE_SOURCE": f"{ROOM}.monitor",
            "ALSA_CONFIG_PATH": str(folder / "asound.conf"),
        }
        self._server: subprocess.Popen[bytes] | None = None

    def __enter__(self) -> VirtualHall:
        """Start the server and wait until it answers."""
        rates = {LOUD: RATE_HZ, MOUTH: RATE_HZ, ROOM: self._room_hz}
        null = [f"--load=module-null-sink sink_name={name} rate={hz} channels=1" for name, hz in rates.items()]
        loops = [f"--load=module-loopback source={n}.monitor sink={ROOM} latency_msec=40" for n in (MOUTH, LOUD)]
        self._server = subprocess.Popen(
            [
                "pulseaudio", "-n", "--daemonize=no", "--exit-idle-time=-1", "--use-pid-file=no", "--disable-shm=yes",
                "--log-level=error", f"--load=module-native-protocol-unix auth-anonymous=1 socket={self._socket}", *null, *loops,
            ],
            env={**self.environment, "HOME": str(self._folder)},
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )  # fmt: skip
        until = time.monotonic() + START_S
        while subprocess.run(["pactl", "info"], env=self.environment, capture_output=True, check=False).returncode:
            if time.monotonic() > until:
                raise RuntimeError("the sound server did not start")
            time.sleep(0.1)
        volume = ["pactl", "set-source-volume", f"{LOUD}.monitor", f"{self._echo_db}dB"]
        subprocess.run(volume, env=self.environment, check=True)
        return self

    def __exit__(self, *_: object) -> None:
        """End the server."""
        assert self._server is not None
        self._server.terminate()
        self._server.wait(10)

    def say(self, wav: Path, after_s: float = 0.0) -> None:
        """The mouth speaks, after a pause; returns when it has."""
        time.sleep(after_s)
        subprocess.run(["paplay", f"--device={MOUTH}", str(wav)], env=self.environment, check=True)

    def unplug_microphone(self) -> None:
        """The microphone is gone; the loudspeaker stays."""
        listed = subprocess.run(
            ["pactl", "list", "short", "modules"], env=self.environment, capture_output=True, text=True, check=True
        )
        (number,) = [row.split()[0] for row in listed.stdout.splitlines() if f"sink_name={ROOM} " in row]
        subprocess.run(["pactl", "unload-module", number], env=self.environment, check=True)

    def unplug(self) -> None:
        """The microphone and everything else is gone at once."""
        assert self._server is not None
        self._server.kill()
        self._server.wait(10)


class Tape:
    """What a sink plays from now on, each piece with the time at which it came."""

    def __init__(self, hall: VirtualHall, sink: str) -> None:
        """Start to record."""
        command = ["parec", f"--device={sink}.monitor", "--format=s16le", "--channels=1", f"--rate={RATE_HZ}"]
        self._recorder = subprocess.Popen(
            [*command, "--latency-msec=20"], env=hall.environment, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
        )
        self._pieces: list[tuple[float, Samples]] = []
        Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        assert self._recorder.stdout is not None
        while len(data := self._recorder.stdout.read(2 * PIECE)) == 2 * PIECE:
            self._pieces.append((time.monotonic(), np.frombuffer(data, dtype="<i2").astype(np.int16)))

    def loud(self, since: float) -> list[float]:
        """Times (monotonic, s) of the pieces since then in which something was said."""
        return [at for at, piece in list(self._pieces) if at >= since and rms(piece) > AUDIBLE]

    def begins(self, since: float) -> float | None:
        """When something is first said after a time."""
        return next(iter(self.loud(since)), None)

    def sounds_now(self) -> bool:
        """Whether something was said in each of the last five pieces, so that it is in the middle of a word."""
        last = list(self._pieces)[-5:]
        return len(last) == 5 and all(rms(piece) > AUDIBLE for _, piece in last)

    def falls_silent(self, since: float, gap_s: float) -> float | None:
        """When it is first silent for `gap_s`; None when it has not been yet."""
        last = since
        for at in [*self.loud(since), self._pieces[-1][0] if self._pieces else since]:
            if at - last >= gap_s:
                return last
            last = at
        return None

    def samples(self, since: float) -> Samples:
        """All that was played since then, int16 at RATE_HZ."""
        pieces = [piece for at, piece in list(self._pieces) if at >= since]
        return np.concatenate(pieces) if pieces else np.zeros(0, dtype=np.int16)

    def close(self) -> None:
        """Stop recording."""
        self._recorder.terminate()
        self._recorder.wait(10)


def rms(samples: Samples) -> float:
    """Root mean square of int16 samples."""
    return float(np.sqrt(np.mean(samples.astype(np.float64) ** 2))) if len(samples) else 0.0
