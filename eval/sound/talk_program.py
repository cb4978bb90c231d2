"""`handlamp talk` as a program of its own in a virtual hall: through pipes, or at a terminal with its keys."""

from __future__ import annotations

import fcntl
import os
import pty
import re
import struct
import subprocess
import sys
import termios
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from queue import Empty, Queue
from threading import Event, Thread

LONGEST_S = 60.0
LOOK_S = 0.05
REPEAT_S, FIRST_REPEAT_S = 0.05, 0.4
"""What a keyboard does while a key is held."""
LIBRARIES = ("ALSA lib", "Expression '")
"""How the sound libraries' own lines on the error output begin."""
COMMAND = (sys.executable, "-m", "assistant.cli", "talk", "--machine", "drumlin")
_CONTROL = re.compile(r"\x1b\[[0-9;?]*[A-Za-z]|\x1b[()][A-Z0-9]|\x1b[=>]")


def own_record(environment: Mapping[str, str], folder: Path, models: Path) -> dict[str, str]:
    """The environment with a job record of its own, so that nobody's jobs are touched."""
    folder.mkdir(parents=True)
    (folder / "models").symlink_to(models)
    return {**environment, "HANDLAMP_DATA_DIR": str(folder)}


def wait_until(holds: Callable[[], bool], seconds: float = LONGEST_S) -> bool:
    """Whether it holds in time."""
    until = time.monotonic() + seconds
    while not (held := holds()) and time.monotonic() < until:
        time.sleep(LOOK_S)
    return held


class Program:
    """The open microphone, printed line by line."""

    def __init__(self, environment: Mapping[str, str], *arguments: str) -> None:
        """Start it."""
        self._process = subprocess.Popen(
            [*COMMAND, *arguments], env=dict(environment), text=True, stdin=subprocess.PIPE, stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
        )  # fmt: skip
        self._lines: Queue[str] = Queue()
        self.printed: list[str] = []
        Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        assert self._process.stdout is not None
        for line in self._process.stdout:
            if not line.startswith(LIBRARIES):
                self._lines.put(line.rstrip())

    def wait_for(self, text: str, seconds: float = LONGEST_S) -> bool:
        """Whether a further line with the text is printed in time."""
        until = time.monotonic() + seconds
        while time.monotonic() < until and not (self._process.poll() is not None and self._lines.empty()):
            try:
                line = self._lines.get(timeout=0.2)
            except Empty:
                continue
            self.printed.append(line)
            if text.lower() in line.lower():
                return True
        return False

    def last(self, count: int) -> str:
        """The last lines as one, for a report."""
        return " / ".join(line for line in self.printed[-count:] if line)

    def type(self, text: str) -> None:
        """A typed line; one that the program no longer takes is left."""
        assert self._process.stdin is not None
        try:
            self._process.stdin.write(text + "\n")
            self._process.stdin.flush()
        except BrokenPipeError:
            return

    def end(self) -> int:
        """End of input ends it; its exit code."""
        assert self._process.stdin is not None
        try:
            self._process.stdin.close()
        except BrokenPipeError:
            return self._process.wait(20)
        return _waited(self._process)


class TerminalProgram:
    """Push-to-talk at a terminal of its own."""

    def __init__(self, environment: Mapping[str, str]) -> None:
        """Start it at a terminal of 80 columns and 30 rows."""
        self._master, slave = pty.openpty()
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", 30, 80, 0, 0))
        self._process = subprocess.Popen(
            COMMAND, env={**environment, "TERM": "xterm", "PROMPT_TOOLKIT_NO_CPR": "1"}, stdin=slave, stdout=slave,
            stderr=subprocess.DEVNULL, start_new_session=True,
        )  # fmt: skip
        os.close(slave)
        self._written = ""
        Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        try:
            while data := os.read(self._master, 4096):
                self._written += data.decode("utf-8", errors="replace")
        except OSError:
            return  # the program has ended, and its terminal with it

    def mark(self) -> int:
        """A place in what was drawn, for `drawn`."""
        return len(self._written)

    def drawn(self, text: str, since: int = 0) -> bool:
        """Whether the text was drawn since then; spaces do not count, for a screen leaves out what is there already."""
        return "".join(text.lower().split()) in "".join(_CONTROL.sub("", self._written[since:]).lower().split())

    def press(self, key: str) -> None:
        """One key."""
        os.write(self._master, key.encode())

    def hold(self, key: str, meanwhile: Callable[[], object]) -> None:
        """Hold a key, as a keyboard tells it, while something is done."""
        done = Event()

        def repeat() -> None:
            self.press(key)
            done.wait(FIRST_REPEAT_S)
            while not done.wait(REPEAT_S):
                self.press(key)

        thread = Thread(target=repeat)
        thread.start()
        meanwhile()
        done.set()
        thread.join()

    def end(self) -> int:
        """`q` ends it; its exit code."""
        self.press("q")
        code = _waited(self._process)
        os.close(self._master)
        return code


def _waited(process: subprocess.Popen[str] | subprocess.Popen[bytes]) -> int:
    try:
        return process.wait(20)
    except subprocess.TimeoutExpired:
        process.kill()
        return process.wait()
