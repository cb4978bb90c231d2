"""What is heard, typed and said put together with the session: the one place where the voice's state is kept."""

from __future__ import annotations

import queue
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Protocol

from assistant.domain.answer import Answer, Outcome
from assistant.domain.sound import RATE_HZ, Expectation, Outlook, Samples, Sound, SoundSource
from assistant.domain.utterance import Heard
from assistant.errors import AssistantError, VoiceError
from assistant.recognition.level import NO_WORDS, faults_of
from assistant.rendering.spoken import spoken
from assistant.talk.commands import Asked, expectation, without_wake_words
from assistant.talk.ears import Began, Ears, Ended, Impression, SoFar
from assistant.talk.mouth import Mouth
from assistant.talk.rules import react
from assistant.talk.screen import Screen
from assistant.talk.state import (
    Action,
    Answered,
    Ask,
    Cue,
    Event,
    LineSaid,
    NobodySpoke,
    Note,
    Phase,
    Say,
    SetVolume,
    Silence,
    SpeechStarted,
    Talk,
    Understood,
)

GUIDED = (Outcome.STEP, Outcome.CHECK, Outcome.READING)
NOT_YOUR_WORDS = "Not your words? One at a time, nearer the microphone, or type it."
MUTED_S = 10.0
MUTED = "The microphone gives pure silence: is it muted, or the wrong one?"
SETTLE_S = 300.0
"""Nothing is spoken longer than this without a pause; a loudspeaker that never finishes shall not hang the program."""


class Turns(Protocol):
    """Takes the turns of the conversation: typed (`heard` None) or heard."""

    def take(self, text: str, heard: Heard | None) -> Answer:
        """The answer."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Block:
    """Sound came in; `played` is what the loudspeaker had played within the last second then, None when it was silent."""

    samples: Samples
    played: Sound | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class KeyDown:
    """The key to talk was pressed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KeyUp:
    """It was let go."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceLost:
    """The microphone ended, with a reason."""

    error: AssistantError


@dataclass(frozen=True, slots=True, kw_only=True)
class VoiceLost:
    """Voice or loudspeaker ended, with a reason; what is said is shown."""

    error: VoiceError


@dataclass(frozen=True, slots=True, kw_only=True)
class End:
    """The conversation ends."""


Input = Event | Block | KeyDown | KeyUp | SourceLost | VoiceLost | End


class Conversation:
    """One conversation by voice; `take` is called by one thread only, `post` by any."""

    def __init__(
        self,
        *,
        turns: Turns,
        screen: Screen,
        codes: frozenset[str] = frozenset(),
        terms: Callable[[], tuple[str, ...]] = lambda: (),
        outlook: Asked | None = None,
        open_microphone: bool = False,
        set_volume: Callable[[float], None] = lambda volume: None,
    ) -> None:
        """Nothing said yet; `mouth` and `ears` are given with `with_voice` and `with_ears`."""
        self.talk = Talk(open_microphone=open_microphone)
        self._turns, self._screen, self._codes, self._terms = turns, screen, codes, terms
        self._outlook = outlook
        self._set_volume = set_volume
        self._inputs: queue.Queue[Input] = queue.Queue()
        self._answer: Answer | None = None
        self._ears: Ears | None = None
        self._mouth: Mouth | None = None
        self._key = self._deaf = False
        self._muted = 0
        self._bad, self._uncovered = "", False
        self.utterance_ended: Callable[[], None] = lambda: None

    # --- parts

    def with_mouth(self, mouth: Mouth) -> None:
        """Speak through this mouth."""
        self._mouth = mouth
        self._set_volume(self.talk.volume)

    def with_ears(self, ears: Ears) -> None:
        """Hear through these ears."""
        self._ears = ears

    def expecting(self) -> Expectation:
        """What may be said now."""
        pending = self._answer.pending if self._answer is not None else None
        awake = not self.talk.open_microphone or self.talk.phase is not Phase.IDLE
        about = self._about if self._outlook else None
        answered = self.talk.phase is not Phase.IDLE
        return expectation(
            pending, self._terms(), awake=awake, guided=self.talk.guided, answered=answered, outlook=about
        )

    def _about(self, readings: Sequence[str]) -> Outlook:
        """What the readings are about, the wake words aside."""
        assert self._outlook is not None
        return self._outlook([without_wake_words(reading) for reading in readings])

    @property
    def listening(self) -> bool:
        """Whether an utterance is open."""
        return self._key or (self._ears is not None and self._ears.hearing)

    def post(self, happened: Input) -> None:
        """Tell from any thread what happened."""
        self._inputs.put(happened)

    # --- the loop

    def run(self) -> None:
        """Take what happens until the end."""
        while not isinstance(happened := self._inputs.get(), End):
            self.take(happened)

    def take(self, happened: Input) -> None:
        """One thing that happened."""
        match happened:
            case Block():
                self._sound(happened)
            case KeyDown():
                self._key_down()
            case KeyUp():
                self._key_up()
            case SourceLost(error=error):
                self._lost(error)
            case VoiceLost(error=error):
                self._screen.note(f"{error.message} {error.hint}".strip())
            case End():
                return
            case _:
                self._event(happened)
        self._screen.state(self.talk, listening=self.listening)

    def settle(self) -> None:
        """Take what happens until the voice waits or is silent."""
        while self.talk.phase is Phase.SPEAKING:
            try:
                self.take(self._inputs.get(timeout=SETTLE_S))
            except queue.Empty:
                self.take(Understood(text="stop"))

    def close(self) -> None:
        """End the mouth; an answer that is being spoken is cut."""
        if self._mouth is not None:
            self._mouth.close()

    def listen_to(self, source: SoundSource) -> int:
        """Take a whole recording, answering each utterance in it to the next pause; how many there were."""
        assert self._ears is not None
        count = 0
        for block in source.blocks():
            for impression in self._ears.accept(block):
                count += self._recorded(impression)
        for impression in self._ears.finish():
            count += self._recorded(impression)
        self._ears.reset()
        return count

    def _recorded(self, impression: Impression) -> int:
        self.hear(impression)
        if not isinstance(impression, Ended):
            return 0
        self._screen.state(self.talk, listening=False)
        self.settle()
        return 1

    # --- sound

    def _sound(self, block: Block) -> None:
        ears = self._ears
        if ears is None:
            return
        self._listen_for_nothing(block.samples)
        if not (self.listening or self.talk.open_microphone or self.talk.phase is Phase.SPEAKING):
            self._deaf = True
            return
        if self._deaf:
            ears.reset()
            self._deaf = False
        for impression in ears.accept(block.samples, block.played):
            self.hear(impression)

    def _listen_for_nothing(self, samples: Samples) -> None:
        """A room is never without a sound: zeros for MUTED_S are a switch or a wrong device, which is told once."""
        before = self._muted
        self._muted = 0 if samples.any() else before + len(samples)
        if before < MUTED_S * RATE_HZ <= self._muted:
            self._screen.note(MUTED)

    def _key_down(self) -> None:
        if self._ears is None:
            self._screen.note("There is no microphone; type instead.")
            return
        self._key, self._deaf = True, False
        for impression in self._ears.open():
            self.hear(impression)

    def _key_up(self) -> None:
        if self._ears is not None and self._key:
            for impression in self._ears.finish():
                self.hear(impression)
        self._key = False

    def _lost(self, error: AssistantError) -> None:
        """The microphone is gone: what was being said is lost, the rest stays as it is."""
        self._ears, self._key = None, False
        self._screen.note(f"{error.message} {error.hint}".strip())
        if self.talk.phase is Phase.PAUSED:
            self._event(Understood(text=""))

    def hear(self, impression: Impression) -> None:
        """Something came through the ears."""
        match impression:
            case Began():
                self._event(SpeechStarted())
            case SoFar(text=text):
                self._screen.partial(text)
            case Ended(heard=heard, cut=cut):
                self._key = False
                self.utterance_ended()
                self._screen.heard(heard.text, f"{heard.confidence:.2f}, {heard.engine}" if heard.text else "")
                if cut:
                    self._screen.note("That was long; it was cut.")
                self._uncovered = False
                self._event(Understood(text=heard.text, heard=heard))
                self._sounded(impression)

    def _sounded(self, ended: Ended) -> None:
        """What was wrong with its sound: whenever nothing came of it, else once until another is good."""
        faults = faults_of(ended.level) if ended.level is not None else ()
        otherwise = NO_WORDS if not ended.heard.text else NOT_YOUR_WORDS if self._uncovered else ""
        worst = faults[0] if faults else otherwise
        kind = worst.partition("(")[0]
        if worst and (kind != self._bad or otherwise):
            self._screen.note(worst)
        self._bad = kind

    # --- the voice's rules

    def _event(self, event: Event) -> None:
        if isinstance(event, Understood) and event.heard is None and event.text:
            self._screen.heard(event.text, "")
        self.talk, actions = react(self.talk, event)
        for action in actions:
            self._do(action)

    def _do(self, action: Action) -> None:
        match action:
            case Say(line=line):
                self._screen.line(line)
                if self._mouth is not None:
                    self._mouth.say(action)
                else:
                    self.post(LineSaid(ticket=action.ticket))
            case Cue(text=text):
                self._screen.note(text)
                if self._mouth is not None:
                    self._mouth.cue(action, self.talk.pace)
            case Note(text=text):
                self._screen.note(text)
            case Silence():
                if self._mouth is not None:
                    self._mouth.silence()
            case SetVolume(volume=volume):
                self._set_volume(volume)
            case NobodySpoke():
                if self._ears is not None:
                    self._ears.nobody_spoke()
            case Ask(text=text, heard=heard):
                self._asked(text, heard)

    def _asked(self, text: str, heard: Heard | None) -> None:
        try:
            answer = self._turns.take(text, _addressed(heard, text) if heard is not None else None)
        except AssistantError as error:
            self._screen.note(f"{error.message} {error.hint}".strip())
            return
        self._answer = answer
        choices = answer.pending.choices if answer.pending is not None else ()
        lines = spoken(answer, self._codes)
        self._event(Answered(lines=lines, guided=answer.outcome in GUIDED, choices=choices))
        self._uncovered = answer.outcome is Outcome.NOT_COVERED


def _addressed(heard: Heard, text: str) -> Heard:
    """What was heard without the wake words, in its readings too."""
    readings = tuple(replace(reading, text=without_wake_words(reading.text)) for reading in heard.readings)
    return replace(heard, text=text, readings=readings)
