"""Microphone and loudspeaker through sounddevice, on virtual devices: a sound server of the test's own."""

import json
import os
import subprocess
import sys

import pytest

from eval.sound.virtual_devices import VirtualHall, missing
from tests.conftest import ROOT

WANTED = bool(os.environ.get("HANDLAMP_SOUND_DEVICE"))
"""They take real time, so they are asked for, as CI does where there is a sound server; whole talks: `python -m eval sound-device`."""
pytestmark = [
    pytest.mark.engine,
    pytest.mark.skipif(bool(missing()) or not WANTED, reason=missing() or "set HANDLAMP_SOUND_DEVICE=1 to try it"),
]

LOOP = """
import json, sys, time
import numpy as np
from assistant.domain.sound import Sound
from assistant.recognition.microphone import Microphone
from assistant.rendering.loudspeaker import Loudspeaker

out, ear = Loudspeaker(), Microphone()
blocks = ear.blocks()
tone = (8000 * np.sin(2 * np.pi * 440 * np.arange(22050 * 30) / 22050)).astype(np.int16)

def listen(seconds):
    heard, count = [], 0
    while count < seconds * 16000:
        heard.append(next(blocks)); count += len(heard[-1])
    return np.concatenate(heard).astype(float)

def level(samples):
    frames = samples[: len(samples) // 320 * 320].reshape(-1, 320)
    return float(np.median(np.sqrt(np.mean(frames ** 2, axis=1))))  # a gap of a busy machine does not count

before = level(listen(0.5))
out.volume = 1.0
out.play(Sound(samples=tone, rate_hz=22050))
listen(1.0)
loud = listen(1.0)
spectrum = np.abs(np.fft.rfft(loud))
playing = out.playing
reference = level(out.heard().samples.astype(float))
out.volume = 0.25
listen(1.0)
soft = level(listen(0.5))
out.stop()
stopped = out.playing
listen(1.0)
after = level(listen(0.5))
ear.close(); out.close()
print(json.dumps(dict(before=before, loud=level(loud), hertz=float(np.argmax(spectrum) * 16000 / len(loud)), playing=playing,
                      reference=reference, soft=soft, stopped=stopped, after=after)))
"""


def test_what_is_played_is_heard_softer_when_told_and_silent_at_once_when_stopped(tmp_path):
    with VirtualHall(tmp_path / "hall") as hall:
        done = subprocess.run(
            [sys.executable, "-c", LOOP], env=hall.environment, cwd=ROOT, capture_output=True, text=True, timeout=60
        )
    assert done.returncode == 0, done.stderr[-800:]
    facts = json.loads(done.stdout.splitlines()[-1])
    full = 8000 / 2**0.5
    assert facts["before"] < 5 and facts["after"] < 5
    assert facts["hertz"] == pytest.approx(440, abs=5) and facts["loud"] == pytest.approx(full, rel=0.1)
    assert facts["reference"] == pytest.approx(full, rel=0.1)
    assert facts["soft"] == pytest.approx(full / 4, rel=0.15)
    assert facts["playing"] and not facts["stopped"]


UNPLUGGED = """
import sys
from assistant.errors import SoundError
from assistant.recognition.microphone import Microphone
ear = Microphone()
blocks = ear.blocks()
next(blocks)
print("hearing", flush=True)
sys.stdin.readline()
try:
    for block in blocks: pass
except SoundError as error:
    print(error.message)
"""


def test_a_microphone_that_is_unplugged_is_one_clear_error(tmp_path):
    with VirtualHall(tmp_path / "hall") as hall:
        program = subprocess.Popen(
            [sys.executable, "-c", UNPLUGGED],
            env=hall.environment,
            cwd=ROOT,
            text=True,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
        )
        assert program.stdout.readline().strip() == "hearing"
        hall.unplug()
        out, _ = program.communicate("\n", timeout=60)
    assert "unplugged" in out
