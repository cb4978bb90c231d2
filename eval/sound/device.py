"""The whole path on virtual devices, real from end to end: spoken into the microphone, heard from the loudspeaker.

`handlamp talk` runs as a program of its own in halls of its own; the mouth is a voice that plays WAVs; what the loudspeaker
plays is recorded, heard again by the recogniser, and comes back into the microphone as it does in a hall.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from assistant.assembly import Options, make_assistant, shelf_of
from assistant.domain.sound import Expectation, Recogniser, Samples
from assistant.recognisers import make_recogniser
from assistant.rendering.playback import resampled
from assistant.rendering.sound_writer import SoundWriter
from assistant.rendering.voice_espeak import EspeakSpeaker, has_espeak
from assistant.settings import load_settings
from eval.sound.talk_program import Program, TerminalProgram, own_record, wait_until
from eval.sound.text import said_words
from eval.sound.virtual_devices import LOUD, MOUTH, RATE_HZ, Tape, VirtualHall, missing
from eval.sound.words import edits

WAKE, QUESTION = "hand lamp,", "where is the safety relay?"
ASKED_OF, HEARD = "KF1", "safety relay"
GO_ON = "say next to go on"
UNHEARD, SILENT = "gives no more sound", "pure silence"
TRIES = 3
"""How often a person says it before they reach for the key."""
ECHO_DB = -10.0
"""The mouth is nearer to the microphone than the loudspeaker is; this is a third of the loudness of speech."""
MOST_WRONG = 0.25
"""Share of the words of a spoken warning that the recogniser may get wrong; it is a small one."""
SILENT_S = 1.0
WARNING_S = 25.0
RATES_HZ = (8_000, 44_100)
"""A headset on a telephone's profile, and a device made for music."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One thing that was tried: whether it held, and what was seen."""

    name: str
    held: bool
    seen: str


class Bench:
    """What every hall needs: a voice, the words as sounds, a recogniser to hear the answers again."""

    def __init__(self, folder: Path) -> None:
        """Make the sounds; the index is made first, so that no program waits for it."""
        settings = load_settings()
        make_assistant(settings, Options(model=False), print)
        self._folder, self._models = folder, settings.data_dir / "models"
        self._recogniser: Recogniser = make_recogniser(shelf_of(settings))
        voice = EspeakSpeaker()
        self.addressed = spoken_wav(f"{WAKE} {QUESTION}", folder / "addressed.wav", voice)
        self.question = spoken_wav(QUESTION, folder / "question.wav", voice)
        self.stop = spoken_wav("stop! stop!", folder / "stop.wav", voice)
        self._halls = 0

    def hall(self, room_hz: int = RATE_HZ) -> VirtualHall:
        """A hall of its own."""
        self._halls += 1
        return VirtualHall(self._folder / f"hall{self._halls}", echo_db=ECHO_DB, room_hz=room_hz)

    def environment(self, hall: VirtualHall) -> dict[str, str]:
        """Where a program finds the hall's devices, with a record of its own."""
        return own_record(hall.environment, self._folder / f"data{self._halls}", self._models)

    def hear_again(self, sound: Samples) -> str:
        """The words in what was recorded."""
        hearing = self._recogniser.listen(Expectation(), 0)
        hearing.accept(resampled(sound, RATE_HZ, 16_000))
        return hearing.finish().text


def spoken_wav(text: str, path: Path, voice: EspeakSpeaker) -> Path:
    """The words as a WAV."""
    writer = SoundWriter(path)
    for sound in voice.speak(text, 0.9):
        writer.play(sound)
    writer.close()
    return path


def boxed(printed: list[str], signal_word: str) -> str:
    """The words of the last warning in a box with this signal word."""
    start = max(place for place, line in enumerate(printed) if line.startswith(f"┌─ {signal_word}"))
    inside = [line.strip("│ ") for line in printed[start + 1 :]]
    end = next((place for place, line in enumerate(inside) if line.startswith("└")), len(inside))
    return f"{signal_word} {' '.join(inside[:end])}"


def wrong_share(said: str, heard: str) -> float:
    """Share of the words said that were heard wrong, up to the end of what was heard."""
    wanted = said_words(said)
    return edits(wanted, said_words(heard)) / len(wanted) if wanted else 1.0


def open_microphone(bench: Bench) -> Iterator[Step]:
    """Wake words, a whole turn, its own voice, `stop` over it, and the microphone pulled out."""
    with bench.hall() as hall:
        loud, mouth = Tape(hall, LOUD), Tape(hall, MOUTH)
        program = Program(bench.environment(hall), "--open")
        program.type("slower")
        yield Step(name="it starts and takes a typed command", held=program.wait_for("(Slower.)"), seen=program.last(2))
        started = time.monotonic()
        wait_until(lambda: loud.falls_silent(loud.begins(started - 2.0) or started, 1.5) is not None, 20)
        asked_at, heard, tries = 0.0, False, 0
        while not heard and tries < TRIES:
            tries, asked_at = tries + 1, time.monotonic()
            hall.say(bench.addressed)
            heard = program.wait_for("┌─ DANGER", 8)
        seen = f"said {tries} times, printed {program.last(10)[:70]}"
        yield Step(name="a question with the wake words is heard", held=heard, seen=seen)
        yield from _answered(bench, program, loud, mouth, asked_at)
        yield from _stopped(bench, hall, program, loud, mouth)
        hall.unplug_microphone()
        told = any(SILENT in line for line in program.printed) or program.wait_for(SILENT, 20)
        yield Step(
            name="microphone pulled out, the server puts a silent one in: one line", held=told, seen=program.last(1)
        )
        at = time.monotonic()
        program.type(f"where is {ASKED_OF}")
        typed = program.wait_for("> where") and program.wait_for("└", 30)
        spoken = wait_until(lambda: loud.begins(at) is not None, 15)
        yield Step(name="typing goes on, and is answered aloud", held=typed and spoken, seen=program.last(3))
        program.type("stop")
        yield Step(name="it ends cleanly", held=program.end() == 0, seen=program.last(4))
        loud.close()
        mouth.close()


def _answered(bench: Bench, program: Program, loud: Tape, mouth: Tape, asked_at: float) -> Iterator[Step]:
    ended = max(mouth.loud(asked_at), default=None)
    sounded = wait_until(lambda: ended is not None and loud.begins(ended) is not None, 15)
    begun = loud.begins(ended) if ended is not None else None
    if not sounded or ended is None or begun is None:
        yield Step(name="the answer is heard from the loudspeaker", held=False, seen="nothing was played")
        return
    seen = f"{1000 * (begun - ended):.0f} ms after the end of the question"
    yield Step(name="the answer is heard from the loudspeaker", held=True, seen=seen)
    wait_until(lambda: program.wait_for("┌", 0.1) or time.monotonic() > begun + WARNING_S, WARNING_S)
    said, again = boxed(program.printed[:-1], "DANGER"), bench.hear_again(loud.samples(begun - 0.3))
    wrong = wrong_share(said, again)
    yield Step(
        name="heard again, it is the warning that was printed", held=wrong <= MOST_WRONG, seen=f"{100 * wrong:.0f} % of its words wrong: {again[:60]} …"
    )  # fmt: skip
    own = program.wait_for("> ", 6)
    yield Step(name="its own voice does not interrupt it", held=not own, seen=program.last(2))


def _stopped(bench: Bench, hall: VirtualHall, program: Program, loud: Tape, mouth: Tape) -> Iterator[Step]:
    program.type("where is KF1")
    at = time.monotonic()
    wait_until(lambda: loud.begins(at + 0.5) is not None, 20)
    time.sleep(1.5)
    wait_until(loud.sounds_now, 10)
    begun = time.monotonic()
    hall.say(bench.stop)
    noted = program.wait_for(GO_ON, 20)
    wait_until(lambda: loud.falls_silent(begun, SILENT_S) is not None, 5)
    first, silent = mouth.begins(begun), loud.falls_silent(begun, 0.6)
    after = f"{1000 * (silent - first):.0f} ms" if first is not None and silent is not None else "never"
    held = noted and silent is not None
    seen = f"silent {after} after it began to be said; {program.last(2)}"
    yield Step(name="`stop` over the answer stops it", held=held, seen=seen)
    at = time.monotonic()
    time.sleep(2.0)
    yield Step(name="then it is silent", held=loud.begins(at) is None, seen=f"rms {loud.samples(at).std():.0f}")


def key_to_talk(bench: Bench) -> Iterator[Step]:
    """A held key at a terminal: a turn, the key over the answer, the typed twins."""
    with bench.hall() as hall:
        loud = Tape(hall, LOUD)
        program = TerminalProgram(bench.environment(hall))
        yield Step(name="at a terminal: it starts", held=wait_until(lambda: program.drawn("SPACE talk")), seen="")
        time.sleep(1.0)
        hall.say(bench.question)
        time.sleep(2.0)
        yield Step(
            name="what is said without the key is not heard", held=not program.drawn(HEARD), seen="",
        )  # fmt: skip
        at = time.monotonic()
        program.hold(" ", lambda: hall.say(bench.question, after_s=0.3))
        listened = wait_until(lambda: program.drawn("listening"), 5)
        answered = wait_until(lambda: program.drawn(HEARD) and program.drawn("DANGER"), 20)
        spoken = wait_until(lambda: loud.begins(at) is not None, 15)
        yield Step(
            name="a question with the key held is heard and answered aloud", held=listened and answered and spoken, seen=f"listening {listened}, heard {answered}, aloud {spoken}"
        )  # fmt: skip
        speaking = wait_until(loud.sounds_now, 10)
        at = time.monotonic()
        program.press(" ")
        quiet = wait_until(lambda: loud.falls_silent(at, SILENT_S) is not None, 6)
        silent = loud.falls_silent(at, SILENT_S)
        seen = f"silent {1000 * (silent - at):.0f} ms after the press" if silent is not None else "never silent"
        yield Step(name="the key over the answer silences it at once", held=speaking and quiet, seen=seen)
        yield Step(name="`q` ends it cleanly", held=program.end() == 0, seen="")
        loud.close()


def other_rate(bench: Bench, room_hz: int) -> Iterator[Step]:
    """A microphone of another rate."""
    with bench.hall(room_hz) as hall:
        program = Program(bench.environment(hall), "--open", "--silent")
        program.type("slower")
        program.wait_for("(Slower.)")
        time.sleep(1.5)
        hall.say(bench.addressed)
        heard = program.wait_for(HEARD, 20)
        yield Step(name=f"a microphone of {room_hz} Hz is heard", held=heard, seen=program.last(1))
        program.end()


def all_gone(bench: Bench) -> Iterator[Step]:
    """Microphone and loudspeaker of one device, pulled out while it speaks."""
    with bench.hall() as hall:
        loud = Tape(hall, LOUD)
        program = Program(bench.environment(hall), "--open")
        at = time.monotonic()
        program.type("what does code 204 mean")
        wait_until(lambda: loud.begins(at) is not None, 60)
        hall.unplug()
        gone = program.wait_for(UNHEARD, 20)
        yield Step(name="all pulled out while it speaks: one line", held=gone, seen=program.last(1))
        program.type(f"where is {ASKED_OF}")
        told = program.wait_for("> where") and program.wait_for("safety relay kf1", 30)
        yield Step(name="and the answers are printed to their first pause", held=told, seen=program.last(3))
        yield Step(name="and it ends cleanly", held=program.end() == 0, seen=program.last(4))
        loud.close()


def no_device(bench: Bench) -> Iterator[Step]:
    """A hall whose sound server never starts: the library finds no device."""
    program = Program(bench.environment(bench.hall()))
    program.type(f"where is {ASKED_OF}")
    told = program.wait_for("there is none") and program.wait_for(ASKED_OF)
    yield Step(name="without a device: one line, and the chat", held=told, seen=(program.printed or [""])[0])
    yield Step(name="and it ends cleanly", held=program.end() == 0, seen=program.last(4))


def try_all(folder: Path) -> Iterator[Step]:
    """Every step in order, as it comes."""
    bench = Bench(folder)
    yield from open_microphone(bench)
    yield from key_to_talk(bench)
    for room_hz in RATES_HZ:
        yield from other_rate(bench, room_hz)
    yield from all_gone(bench)
    yield from no_device(bench)


def main() -> int:
    """Try and print; the number of steps that did not hold."""
    why = missing() or ("" if has_espeak() else "espeak-ng is not installed, which speaks to it")
    if why:
        print(f"sound-device: not tried: {why}")
        return 0
    failed = 0
    with tempfile.TemporaryDirectory() as scratch:
        for step in try_all(Path(scratch)):
            failed += not step.held
            print(
                f"{'held  ' if step.held else 'FAILED'}  {step.name}{f': {step.seen}' if step.seen else ''}", flush=True
            )
    return failed


if __name__ == "__main__":
    sys.exit(main())
