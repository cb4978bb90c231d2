"""What was heard or finished -> what is said next: the conversation's rules as a function, without a device or a clock."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum

from assistant.domain.utterance import Heard
from assistant.rendering.spoken import SpokenKind, SpokenLine


class Phase(StrEnum):
    """What the voice is doing."""

    IDLE = "idle"
    SPEAKING = "speaking"
    PAUSED = "paused"
    """Cut by somebody's speech, which is not understood yet."""
    WAITING = "waiting"
    STOPPED = "stopped"


SLOWEST, FASTEST, PACE_STEP = 0.6, 1.6, 1.15
QUIETEST, LOUDEST, VOLUME_STEP = 0.1, 4.0, 1.4
"""Factors; 1.4 is about 3 dB, the smallest step that is plainly heard (common practice, no source)."""
VOLUME = 0.7
"""At the start, so that `louder` has room before the loudest samples are held."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Talk:
    """Where the voice is: `at` is the line being said or said last, `reached` counts the lines begun so far.

    `ticket` numbers what is said, so that a line that ended after it was cut is not taken for the present one. `guided`:
    the answer belongs to guided work, which has steps of its own to go on to. `choices`: what its question offers. `awake`:
    the wake words were said alone.
    """

    lines: tuple[SpokenLine, ...] = ()
    at: int = 0
    reached: int = 0
    phase: Phase = Phase.IDLE
    ticket: int = 0
    pace: float = 1.0
    volume: float = VOLUME
    guided: bool = False
    choices: tuple[str, ...] = ()
    open_microphone: bool = False
    awake: bool = False


# --- what happens


@dataclass(frozen=True, slots=True, kw_only=True)
class SpeechStarted:
    """Somebody speaks."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Understood:
    """An utterance has ended; `heard` is None when it was typed."""

    text: str
    heard: Heard | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LineSaid:
    """The line with this ticket was heard to its end."""

    ticket: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Answered:
    """The session has answered."""

    lines: tuple[SpokenLine, ...]
    guided: bool = False
    choices: tuple[str, ...] = ()


Event = SpeechStarted | Understood | LineSaid | Answered


# --- what is to be done


@dataclass(frozen=True, slots=True, kw_only=True)
class Say:
    """Say this line; `upcoming` is likely to be next and can be made ready."""

    line: SpokenLine
    pace: float
    ticket: int
    upcoming: SpokenLine | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Cue:
    """Say and print a few words of the program's own that no line waits for."""

    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Silence:
    """Be silent at once."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SetVolume:
    """How loud; a factor."""

    volume: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Ask:
    """Give the session a turn."""

    text: str
    heard: Heard | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """Print one line, say nothing."""

    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NobodySpoke:
    """What interrupted the voice was its own sound, or none that holds words: it shall not be interrupted by so little."""


Action = NobodySpoke | Say | Cue | Silence | SetVolume | Ask | Note
Actions = tuple[Action, ...]


def unit_starts(lines: tuple[SpokenLine, ...]) -> tuple[int, ...]:
    """Where `next`, `back` and `repeat` can lead: each warning by itself, and what follows a pause."""
    starts = []
    for place, line in enumerate(lines):
        before = lines[place - 1] if place else None
        if before is None or before.pause_after or SpokenKind.WARNING in (line.kind, before.kind):
            starts.append(place)
    return tuple(starts)


def unit_of(talk: Talk) -> int:
    """The start of the unit that is being said."""
    return max((start for start in unit_starts(talk.lines) if start <= talk.at), default=0)


def question_of(talk: Talk) -> int | None:
    """The place of the question that waits for a reply."""
    last = len(talk.lines) - 1
    return last if last >= 0 and talk.lines[last].kind is SpokenKind.QUESTION else None


def warned(talk: Talk) -> bool:
    """Whether every warning was begun."""
    return all(line.kind is not SpokenKind.WARNING for line in talk.lines[talk.reached :])


def quietened(talk: Talk, phase: Phase) -> tuple[Talk, Actions]:
    """Silent at once; a line that still ends is not taken for one that was heard."""
    return replace(talk, phase=phase, ticket=talk.ticket + 1), (Silence(),)


def said_from(talk: Talk, at: int) -> tuple[Talk, Actions]:
    """Say the line at a place; what was being said is cut first."""
    cut: Actions = (Silence(),) if talk.phase is Phase.SPEAKING else ()
    line = talk.lines[at]
    upcoming = talk.lines[at + 1] if at + 1 < len(talk.lines) else None
    after = replace(
        talk, at=at, reached=max(talk.reached, at + 1), phase=Phase.SPEAKING, ticket=talk.ticket + 1, awake=False
    )
    say = Say(line=line, pace=line.pace * talk.pace, ticket=after.ticket, upcoming=upcoming)
    return after, (*cut, say)
