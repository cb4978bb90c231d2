"""`handlamp talk`: the conversation by voice, from microphone or sound files, and what stands in when a part is missing."""

from __future__ import annotations

import os
import shutil
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Protocol

import typer

from assistant.errors import AssistantError, ModelError, SoundError, VoiceError

if TYPE_CHECKING:
    from assistant.dialogue.session import Session
    from assistant.domain.sound import Sound, Speaker
    from assistant.pipeline import Assistant
    from assistant.recognition.microphone import Microphone
    from assistant.settings import Settings
    from assistant.talk.conversation import Conversation
    from assistant.talk.ears import Ears
    from assistant.talk.screen import Screen

Say = Callable[[str], None]


class Output(Protocol):
    """A sink of sound that can be louder."""

    volume: float

    def play(self, sound: Sound) -> None:
        """Queue sound."""

    def stop(self) -> None:
        """Silence at once."""

    @property
    def playing(self) -> bool:
        """Whether anything queued has not been heard yet."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TalkOptions:
    """How to talk: files in place of the microphone, where the speech goes, how the microphone is opened."""

    audio: tuple[Path, ...] = ()
    open_microphone: bool = False
    key: str = "space"
    silent: bool = False
    into: Path | None = None
    device: str | None = None
    out_device: str | None = None


def mount(
    app: typer.Typer,
    settings_of: Callable[[str | None], Settings],
    assistant_of: Callable[[Settings], Assistant],
    say: Say,
) -> None:
    """Add the command to the program."""

    def run(options: TalkOptions, machine: str | None) -> None:
        settings = settings_of(machine)
        run_talk(assistant_of(settings), settings, options, say)

    app.command(name="talk")(_command(run))


def _command(run: Callable[[TalkOptions, str | None], None]) -> Callable[..., None]:
    def talk(
        files: Annotated[list[Path] | None, typer.Argument(help="Further sound files after --audio.")] = None,
        audio: Annotated[list[Path] | None, typer.Option("--audio", help="Sound files as the turns, in order.")] = None,
        open_microphone: Annotated[
            bool, typer.Option("--open", help='Open microphone; begin with "hand lamp".')
        ] = False,
        key: Annotated[
            str, typer.Option(help="The key to talk: space, f8, c-space, or what a footswitch sends.")
        ] = "space",
        silent: Annotated[bool, typer.Option("--silent", help="Print only; speak nothing.")] = False,
        into: Annotated[Path | None, typer.Option("--into", help="Write what is spoken to this WAV instead.")] = None,
        microphone: Annotated[str | None, typer.Option(help="Input device (see `audio devices`).")] = None,
        loudspeaker: Annotated[str | None, typer.Option(help="Output device (see `audio devices`).")] = None,
        machine: Annotated[str | None, typer.Option("--machine", "-m", help="The machine in scope.")] = None,
    ) -> None:
        """Ask aloud and be read to: push-to-talk or open microphone, `next`, `back`, `repeat`, `stop` at any time."""
        options = TalkOptions(
            audio=(*(audio or ()), *(files or ())),
            open_microphone=open_microphone,
            key=key,
            silent=silent,
            into=into,
            device=microphone,
            out_device=loudspeaker,
        )
        run(options, machine)

    return talk


def run_talk(assistant: Assistant, settings: Settings, options: TalkOptions, say: Say) -> None:
    """The conversation with every part that can be had; without ears it is the chat.

    Raises:
        SoundError: a sound file cannot be used.
        ModelError: speech cannot be recognised and there are sound files to hear.

    """
    if options.audio:
        _files(assistant, settings, options, say)
        return
    try:
        source = open_microphone(options.device)
        parts = _Parts(assistant, settings, options, say)
    except (SoundError, ModelError) as error:
        from assistant.chat import run_chat

        say(f"{error.message} {error.hint}")
        run_chat(assistant, settings, json_lines=False)
        return
    parts.warm()
    if sys.stdin.isatty() and sys.stdout.isatty():
        _live(parts, source, options)
    else:
        _unattended(parts, source, options)


def open_microphone(device: str | None) -> Microphone:
    """The microphone.

    Raises:
        SoundError: there is none, or it is busy.

    """
    from assistant.recognition.microphone import Microphone

    return Microphone(device)


class _Parts:
    """Engines and devices of one conversation, built once."""

    def __init__(self, assistant: Assistant, settings: Settings, options: TalkOptions, say: Say) -> None:
        from assistant.assembly import shelf_of
        from assistant.dialogue.hearing import HearingSession
        from assistant.recognisers import make_recogniser
        from assistant.recognition.voice_activity import SileroDetector

        self.options = options
        self.recogniser = make_recogniser(shelf_of(settings))
        self.detector = SileroDetector()
        self.knowledge, self._look = assistant.knowledge, assistant.looked_up
        self.codes = frozenset(code.id for code in assistant.knowledge.codes)
        clock_s = None if options.audio else time.monotonic  # files are no real time: nothing is counted down
        self.speaker, self.sink = voice_of(options, say)
        self._kept = ExitStack()
        self.turns = HearingSession.of(assistant, self._session(assistant, settings, clock_s, say))
        self._terms: dict[str | None, tuple[str, ...]] = {}

    def _session(
        self, assistant: Assistant, settings: Settings, clock_s: Callable[[], float] | None, say: Say
    ) -> Session:
        """A session kept in the job record, as the typed one is; without a record where that cannot be opened."""
        from assistant.chat import make_recorder
        from assistant.dialogue.session import Session
        from assistant.records.ledger import FILE, open_ledger
        from assistant.records.recorded_session import RecordedSession

        try:
            ledger = self._kept.enter_context(open_ledger(settings.data_dir / FILE))
        except AssistantError as error:
            say(f"note: {error.message} {error.hint} Nothing is recorded.")
            return Session(assistant, settings.machine, clock_s)
        recorder = make_recorder(assistant, ledger)
        session = RecordedSession(assistant, settings.machine, clock_s, recorder, lambda text: say(f"note: {text}"))
        self._kept.callback(session.leave)
        session.resume()
        return session

    def warm(self) -> None:
        """Search once, and weigh the commands: what is read or computed at first, nobody shall wait for when they have spoken."""
        from assistant.domain.utterance import Utterance
        from assistant.talk.commands import expectation

        self._look(Utterance(text="main switch"), self.turns.session.conversation)
        self.recogniser.listen(expectation(None, (), awake=True, answered=True), 0)

    def terms(self) -> tuple[str, ...]:
        """What an open recogniser is primed with, of the machine in scope."""
        from assistant.recognition.priming import priming_terms

        scope = self.turns.session.conversation.scope
        if scope not in self._terms:
            self._terms[scope] = priming_terms(self.knowledge, scope)
        return self._terms[scope]

    def conversation(self, screen: Screen) -> Conversation:
        """Ears, mouth and session put together."""
        from assistant.dialogue.outlook import KnowledgeOutlook
        from assistant.talk.conversation import Conversation, VoiceLost
        from assistant.talk.mouth import Mouth
        from assistant.talk.state import LineSaid

        conversation = Conversation(
            turns=self.turns,
            screen=screen,
            codes=self.codes,
            terms=self.terms,
            outlook=KnowledgeOutlook(self.knowledge, self._look, lambda: self.turns.session.conversation),
            open_microphone=self.options.open_microphone,
            set_volume=self._set_volume,
        )
        mouth = Mouth(
            self.speaker,
            self.sink,
            said=lambda ticket: conversation.post(LineSaid(ticket=ticket)),
            lost=lambda error: conversation.post(VoiceLost(error=error)),
        )
        conversation.with_mouth(mouth)
        return conversation

    def ears(self, conversation: Conversation, *, files: bool) -> Ears:
        """Ears for a microphone or for recordings."""
        from assistant.recognition.endpointing import QUESTION_IN_A_FILE, Endpointer, Timing
        from assistant.talk.ears import Ears

        timing = QUESTION_IN_A_FILE if files else Timing()
        return Ears(self.recogniser, Endpointer(self.detector, timing), conversation.expecting)

    def played(self) -> Sound | None:
        """What the loudspeaker has played within the last second; None when it was silent."""
        heard: Callable[[], Sound] | None = getattr(self.sink, "heard", None)
        sound = heard() if heard is not None else None
        return sound if sound is not None and sound.samples.any() else None

    def _set_volume(self, volume: float) -> None:
        if self.sink is not None:
            self.sink.volume = volume

    def close(self) -> None:
        """Leave the job in its record, give devices and processes back."""
        self._kept.close()
        for part in (self.sink, self.speaker):
            close: Callable[[], Any] | None = getattr(part, "close", None)
            if close is not None:
                close()


def voice_of(options: TalkOptions, say: Say) -> tuple[Speaker | None, Output | None]:
    """The best voice there is and where its sound goes; (None, None) with a line that says why when there is none."""
    if options.silent:
        return None, None
    sink: Output
    try:
        if options.into is not None:
            from assistant.rendering.sound_writer import SoundWriter

            sink = SoundWriter(options.into)
        else:
            from assistant.rendering.loudspeaker import Loudspeaker

            sink = Loudspeaker(options.out_device)
        return make_speaker(say), sink
    except VoiceError as error:
        say(f"{error.message} {error.hint}")
        return None, None


def make_speaker(say: Say) -> Speaker:
    """Piper where it is installed, else espeak-ng.

    Raises:
        VoiceError: there is neither.

    """
    from assistant.rendering.voice_espeak import EspeakSpeaker, has_espeak
    from assistant.rendering.voice_piper import PiperSpeaker, packaged_voice

    voice = packaged_voice()
    if voice is not None:
        return PiperSpeaker(voice)
    if has_espeak():
        say("The voice is espeak-ng; the extra `voice-piper` has a better one.")
        return EspeakSpeaker()
    raise VoiceError("There is no voice.", "Install the extra `voice-piper`, or espeak-ng; answers are printed.")


def _files(assistant: Assistant, settings: Settings, options: TalkOptions, say: Say) -> None:
    from assistant.recognition.sound_files import FileSource
    from assistant.talk.recordings import hear_files

    sources = [FileSource(path) for path in options.audio]
    parts = _Parts(assistant, settings, options, say)
    conversation = parts.conversation(_printed())
    conversation.with_ears(parts.ears(conversation, files=True))
    try:
        hear_files(conversation, sources, say)
    finally:
        conversation.close()
        parts.close()


def _printed() -> Screen:
    from assistant.rendering.screen import screen_style
    from assistant.talk.screen import PrintedScreen

    def write(text: str) -> None:
        sys.stdout.write(text)
        sys.stdout.flush()

    style = screen_style()
    return PrintedScreen(
        write, shutil.get_terminal_size((80, 24)).columns, colour=style.colour, in_place=sys.stdout.isatty()
    )


def _live(parts: _Parts, source: Microphone, options: TalkOptions) -> None:
    from assistant.talk.live import LiveScreen, run_live

    screen = LiveScreen()
    conversation = parts.conversation(screen)
    conversation.with_ears(parts.ears(conversation, files=False))
    ended = capture(source, conversation, parts.played)
    try:
        with quiet_libraries():
            run_live(conversation, screen, options.key)
    finally:
        ended.set()
        conversation.close()
        parts.close()


@contextmanager
def quiet_libraries() -> Iterator[None]:
    """Sound libraries write of every hiccup to the error output, over the screen; meanwhile it leads nowhere."""
    kept, nowhere = os.dup(2), os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 2)
    try:
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)
        os.close(nowhere)


def _unattended(parts: _Parts, source: Microphone, options: TalkOptions) -> None:
    """Without a terminal: the microphone is open until the input ends; each line of it is a typed turn."""
    from assistant.talk.conversation import End
    from assistant.talk.state import Understood

    conversation = parts.conversation(_printed())
    conversation.with_ears(parts.ears(conversation, files=False))
    ended = capture(source, conversation, parts.played)

    def typed() -> None:
        for line in sys.stdin:
            if line.strip():
                conversation.post(Understood(text=line.strip()))
        conversation.post(End())

    threading.Thread(target=typed, name="typed", daemon=True).start()
    try:
        conversation.run()
        conversation.settle()
    finally:
        ended.set()
        conversation.close()
        parts.close()


def capture(source: Microphone, conversation: Conversation, played: Callable[[], Sound | None]) -> threading.Event:
    """Pass the blocks of a source on, in a thread of its own, until the event that is returned is set.

    What is being played is noted with each block as it comes in: when it is taken, it may be long past.
    """
    from assistant.talk.conversation import Block, SourceLost

    ended = threading.Event()
    source.played = played

    def run() -> None:
        try:
            for block in source.blocks():
                if ended.is_set():
                    return
                conversation.post(Block(samples=block, played=source.played_then))
            conversation.post(SourceLost(error=SoundError("The microphone has ended.", "Type on.")))
        except AssistantError as error:
            conversation.post(SourceLost(error=error))

    threading.Thread(target=run, name="capture", daemon=True).start()
    return ended
