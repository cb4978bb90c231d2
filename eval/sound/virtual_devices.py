"""A virtual hall of PulseAudio null sinks: what the loudspeaker plays and what a mouth says both reach the microphone."""

from __future__ import annotations

import os
import shutil
import subprocess
import time
from pathlib import Path

NEEDED = ("pulseaudio", "pactl", "paplay", "parec")
LOUD, MOUTH, ROOM = "loud", "mouth", "room"
RATE_HZ = 48_000
ASOUND = "pcm.!default { type pulse }\nctl.!default { type pulse }\n"
START_S = 10.0


def missing() -> str:
    """Why there can be no virtual hall; "" when there can."""
    absent = [name for name in NEEDED if shutil.which(name) is None]
    if absent:
        return f"{', '.join(absent)} not installed (Debian: pulseaudio, pulseaudio-utils)"
    plugin = list(Path("/usr/lib").glob("*/alsa-lib/libasound_module_pcm_pulse.so"))
    return "" if plugin else "ALSA's plugin for PulseAudio is not installed (Debian: libasound2-plugins)"


class VirtualHall:
    """A sound server of its own in a folder of its own; ended when the block is left."""

    def __init__(self, folder: Path, *, echo_db: float = 0.0) -> None:
        """`echo_db`: how loud the loudspeaker comes back into the microphone, beside what it plays."""
        self._folder, self._echo_db = folder, echo_db
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
        null = [f"--load=module-null-sink sink_name={name} rate={RATE_HZ} channels=1" for name in (LOUD, MOUTH, ROOM)]
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

    def say(self, wav: Path) -> None:
        """The mouth speaks; returns when it has."""
        subprocess.run(["paplay", f"--device={MOUTH}", str(wav)], env=self.environment, check=True)

    def record(self, seconds: float, source: str = LOUD) -> bytes:
        """int16 little-endian mono at RATE_HZ of what a sink plays."""
        command = ["parec", f"--device={source}.monitor", "--format=s16le", "--channels=1", f"--rate={RATE_HZ}"]
        recorder = subprocess.Popen([*command, "--latency-msec=20"], env=self.environment, stdout=subprocess.PIPE)
        time.sleep(seconds)
        recorder.terminate()
        return recorder.communicate()[0]

    def unplug(self) -> None:
        """The microphone and everything else is gone at once."""
        assert self._server is not None
        self._server.kill()
        self._server.wait(10)
