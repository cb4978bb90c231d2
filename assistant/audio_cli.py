"""`handlamp audio`, and the questions of `handlamp ask --audio`: sound in, level and answers out."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from assistant.errors import SoundError

if TYPE_CHECKING:
    from assistant.domain.answer import Answer
    from assistant.domain.sound import Samples, SoundSource
    from assistant.domain.utterance import Heard
    from assistant.pipeline import Assistant
    from assistant.recognition.sound_files import FileSource
    from assistant.settings import Settings

audio_app = typer.Typer(help="Microphone and sound: what is there, how loud it is, what is wrong with it.")
TEST_S = 5
NOTHING_HEARD = "No words were heard."


@audio_app.command("devices")
def audio_devices(as_json: Annotated[bool, typer.Option("--json", help="A JSON list.")] = False) -> None:
    """The sound devices of this machine, the default microphone marked."""
    from dataclasses import asdict

    from assistant.recognition.microphone import devices

    found = devices()
    if as_json:
        typer.echo(json.dumps([asdict(d) for d in found], ensure_ascii=False))
        return
    for d in found:
        mark = "*" if d.default_input else " "
        typer.echo(f"{mark}{d.index:>3}  {d.name}: {d.inputs} in, {d.outputs} out, {d.rate_hz} Hz")
    if not any(d.inputs for d in found):
        typer.echo("No microphone: typing and sound files work without one.")


@audio_app.command("test")
def audio_test(
    file: Annotated[Path | None, typer.Argument(help="A sound file; left out: the microphone.")] = None,
    device: Annotated[str | None, typer.Option("--device", "-d", help="A microphone (see `audio devices`).")] = None,
    seconds: Annotated[int, typer.Option("--seconds", "-s", min=1, max=60, help="How long to listen.")] = TEST_S,
) -> None:
    """Level, noise floor, clipping, and a picture of the level over time; says what is wrong."""
    from assistant.recognition.level import Meter, faults_of, picture

    source, name = _source(file, device)
    meter, levels = Meter(), list[float]()
    found, speech = _speech_finder(), False
    if file is None:
        typer.echo(f"Speak for {seconds} s, as you would at the machine …")
    for block in _first(source, seconds if file is None else None):
        speech = (found is not None and found(block)) or speech
        levels += meter.add(block)
        if len(levels) > 50 * 600:
            levels = [max(pair) for pair in zip(levels[::2], levels[1::2], strict=False)]
    level = meter.level()
    typer.echo(f"{name}\n|{picture(levels)}|")
    typer.echo(
        f"speech {level.speech_dbfs:.0f} dBFS, noise floor {level.noise_dbfs:.0f} dBFS, {level.snr_db:.0f} dB apart"
    )
    typer.echo(f"clipped {100 * level.clipped:.2f} % of the samples, {level.length_ms / 1000:.1f} s")
    for line in faults_of(level, speech=speech if found is not None else None) or ("Good.",):
        typer.echo(line)


def _speech_finder() -> Callable[[Samples], bool] | None:
    """What says of each block whether speech began in it; None without the model that can tell."""
    from assistant.errors import ModelError
    from assistant.recognition.endpointing import Edge, Endpointer
    from assistant.recognition.voice_activity import SileroDetector

    try:
        endpointer = Endpointer(SileroDetector())
    except ModelError:
        return None
    return lambda block: any(piece.edge is Edge.STARTED for piece in endpointer.accept(block))


def _source(file: Path | None, device: str | None) -> tuple[SoundSource, str]:
    from assistant.recognition.microphone import Microphone
    from assistant.recognition.sound_files import FileSource

    if file is not None:
        recorded = FileSource(file)
        _announce(recorded, "it is measured from start to end")
        return recorded, file.name
    microphone = Microphone(device)
    return microphone, f"{microphone.name}, {microphone.rate_hz} Hz"


def _announce(source: FileSource, what: str) -> None:
    from assistant.recognition.sound_files import long_note

    note = long_note(source, what)
    if note:
        typer.echo(f"note: {note}", err=True)


def _first(source: SoundSource, seconds: int | None) -> Iterator[Samples]:
    """Blocks of the first seconds, or all of them."""
    from assistant.domain.sound import RATE_HZ

    taken = 0
    for block in source.blocks():
        yield block
        taken += len(block)
        if seconds is not None and taken >= seconds * RATE_HZ:
            return


def ask_files(
    assistant: Assistant, settings: Settings, files: Sequence[str], show: Callable[[Answer], None], *, sure: bool
) -> bool:
    """Each file a question by itself; False when one of them could not be heard at all.

    Raises:
        SoundError: no file is named.
        ModelError: there is no recogniser.

    """
    from assistant.assembly import shelf_of
    from assistant.dialogue.outlook import KnowledgeOutlook
    from assistant.dialogue.session import Session
    from assistant.domain.sound import Expectation
    from assistant.recognisers import make_recogniser
    from assistant.recognition.priming import priming_terms
    from assistant.recognition.questions import hear_question
    from assistant.recognition.sound_files import FileSource
    from assistant.recognition.voice_activity import SileroDetector

    if not files:
        raise SoundError("No sound file is named.", "Write `handlamp ask --audio question.wav`.")
    recogniser = make_recogniser(shelf_of(settings))
    fresh = Session(assistant, settings.machine).conversation
    outlook = KnowledgeOutlook(assistant.knowledge, assistant.looked_up, lambda: fresh)
    expectation = Expectation(terms=priming_terms(assistant.knowledge, settings.machine), outlook=outlook)
    good = True
    for name in files:
        heard, note = None, ""
        try:
            source = FileSource(Path(name))
            _announce(source, "it is listened to as far as the first question in it")
            question = hear_question(source, recogniser, SileroDetector(), expectation)
            heard, note = question.heard, " ".join(question.notes)
        except SoundError as error:
            good, note = False, f"{error.message} {error.hint}"
        if note:
            typer.echo(f"note: {Path(name).name}: {note}", err=True)
        show(_answer(assistant, settings, heard, sure=sure))
    return good


def _answer(assistant: Assistant, settings: Settings, heard: Heard | None, *, sure: bool) -> Answer:
    from assistant.dialogue.hearing import HearingSession
    from assistant.dialogue.session import Session
    from assistant.domain.utterance import Utterance
    from assistant.rules.verdict import Case

    session = Session(assistant, settings.machine)
    if heard is None:
        return assistant.rules.ask_again(
            Case(utterance=Utterance(text=""), state=session.conversation.state), NOTHING_HEARD
        )
    if sure:
        return session.say(heard.text, heard)
    return HearingSession.of(assistant, session, looking=True).take(heard.text, heard)
