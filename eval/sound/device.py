"""The whole path on virtual devices: a question said into the microphone is answered aloud, and `stop` over the answer stops it.

`handlamp talk --open` runs as a program of its own; the mouth is a voice that plays WAVs; what the loudspeaker plays is
recorded, and comes back into the microphone as it does in a hall.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from queue import Empty, Queue
from threading import Thread

import numpy as np

from assistant.rendering.sound_writer import SoundWriter
from assistant.rendering.voice_espeak import EspeakSpeaker
from eval.sound.virtual_devices import VirtualHall, missing

QUESTION = "hand lamp, where is the safety relay?"
ASKED_OF = "KF1"
ECHO_DB = -10.0
"""The mouth is nearer to the microphone than the loudspeaker is; this is a third of the loudness of speech."""
TRIES = 3
"""How often a person says `stop` before they reach for the key."""
LONGEST_S = 60.0
AUDIBLE = 300.0
"""Root mean square of int16 samples above which something is being spoken."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One thing that was tried: whether it held, and what was seen."""

    name: str
    held: bool
    seen: str


class Program:
    """`handlamp talk` with its printed lines."""

    def __init__(self, hall: VirtualHall) -> None:
        """Start it."""
        command = [sys.executable, "-m", "assistant.cli", "talk", "--open", "--machine", "drumlin"]
        self._process = subprocess.Popen(
            command, env=hall.environment, text=True, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
        )  # fmt: skip
        self._lines: Queue[str] = Queue()
        self.printed: list[str] = []
        Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        assert self._process.stdout is not None
        for line in self._process.stdout:
            self._lines.put(line.rstrip())

    def wait_for(self, text: str, seconds: float = LONGEST_S) -> bool:
        """Whether a line with the text is printed in time."""
        until = time.monotonic() + seconds
        while time.monotonic() < until:
            try:
                line = self._lines.get(timeout=0.2)
            except Empty:
                continue
            self.printed.append(line)
            if text.lower() in line.lower():
                return True
        return False

    def type(self, text: str) -> None:
        """A typed line."""
        assert self._process.stdin is not None
        self._process.stdin.write(text + "\n")
        self._process.stdin.flush()

    def end(self) -> int:
        """End of input ends it; its exit code."""
        assert self._process.stdin is not None
        self._process.stdin.close()
        try:
            return self._process.wait(20)
        except subprocess.TimeoutExpired:
            self._process.kill()
            return self._process.wait()


def spoken_wav(text: str, path: Path, voice: EspeakSpeaker) -> Path:
    """The words as a WAV."""
    writer = SoundWriter(path)
    for sound in voice.speak(text, 0.9):
        writer.play(sound)
    writer.close()
    return path


def loudness(data: bytes) -> float:
    """Root mean square of int16 samples; the loudest quarter second counts."""
    samples = np.frombuffer(data[: len(data) // 2 * 2], dtype="<i2").astype(np.float64)
    parts = np.array_split(samples, max(1, len(samples) // 12_000))
    return max((float(np.sqrt(np.mean(part**2))) for part in parts if len(part)), default=0.0)


def _stopped(hall: VirtualHall, program: Program, stop: Path) -> Step:
    begun = time.monotonic()
    hall.say(stop)
    held = program.wait_for("stopped", 20)
    took = time.monotonic() - begun
    return Step(name="`stop` over the answer stops it", held=held, seen=f"{took:.1f} s after it began to be said")


def try_all(folder: Path) -> tuple[Step, ...]:
    """Every step in order."""
    voice = EspeakSpeaker()
    question, stop = (spoken_wav(text, folder / f"{n}.wav", voice) for n, text in enumerate((QUESTION, "stop! stop!")))
    steps = []
    with VirtualHall(folder / "hall", echo_db=ECHO_DB) as hall:
        program = Program(hall)
        program.type("slower")
        ready = program.wait_for("slower")
        steps.append(
            Step(name="it starts and takes a typed command", held=ready, seen=" / ".join(program.printed[-2:]))
        )
        hall.say(question)
        asked = program.wait_for("safety relay") and program.wait_for("DANGER")
        steps.append(
            Step(name="a question is heard through the microphone", held=asked, seen=" / ".join(program.printed[-4:]))
        )
        program.type("what does code 204 mean")
        answered = program.wait_for("> what does code 204") and program.wait_for("DANGER")
        level = loudness(hall.record(3.0))
        steps.append(
            Step(
                name="the answer is heard from the loudspeaker",
                held=answered and level > AUDIBLE,
                seen=f"rms {level:.0f}",
            )
        )
        own = program.wait_for("> ", 6)
        steps.append(
            Step(name="its own voice does not interrupt it", held=not own, seen=" / ".join(program.printed[-2:]))
        )
        steps.append(_stopped(hall, program, stop))
        level = loudness(hall.record(2.0)[-96_000:])
        steps.append(Step(name="then it is silent", held=level < AUDIBLE, seen=f"rms {level:.0f}"))
        hall.unplug()
        gone = program.wait_for("unplugged", 20)
        program.type("where is KF1")
        typed = program.wait_for(ASKED_OF, 30)
        steps.append(
            Step(
                name="unplugged: one line, and typing goes on",
                held=gone and typed,
                seen=" / ".join(program.printed[-3:]),
            )
        )
        steps.append(Step(name="it ends cleanly", held=program.end() == 0, seen="\n".join(program.printed)))
    return tuple(steps)


def main() -> int:
    """Try and print; the number of steps that did not hold."""
    why = missing()
    if why:
        print(f"sound-device: not tried: {why}")
        return 0
    with tempfile.TemporaryDirectory() as scratch:
        steps = try_all(Path(scratch))
    for step in steps[:-1]:
        print(f"{'held  ' if step.held else 'FAILED'}  {step.name}: {step.seen}")
    print(f"{'held  ' if steps[-1].held else 'FAILED'}  {steps[-1].name}")
    if not all(step.held for step in steps):
        print(steps[-1].seen)
    return sum(not step.held for step in steps)


if __name__ == "__main__":
    sys.exit(main())
