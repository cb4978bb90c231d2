"""Event and state of the voice -> the next state and what is to be done."""

from __future__ import annotations

from dataclasses import replace
from difflib import SequenceMatcher

from assistant.dialogue.hearing import SAY_AGAIN, SURE_SENTENCE
from assistant.dialogue.replies import Reply, reply_of
from assistant.domain.terms import Energy
from assistant.domain.utterance import Heard
from assistant.rendering.spoken import SpokenKind
from assistant.rules import energy_state
from assistant.talk.commands import COURTESIES, Command, after_wake_words, command_of, plain
from assistant.talk.state import (
    FASTEST,
    LOUDEST,
    PACE_STEP,
    QUIETEST,
    SLOWEST,
    VOLUME_STEP,
    Actions,
    Answered,
    Ask,
    Cue,
    Event,
    LineSaid,
    NobodySpoke,
    Note,
    Phase,
    SetVolume,
    SpeechStarted,
    Talk,
    Understood,
    question_of,
    quietened,
    said_from,
    unit_of,
    unit_starts,
    warned,
)

ALL_SAID = "That is all."
NOTHING_YET = "Nothing was said yet."
LISTENING = "Yes?"
NO_WORDS = "No words were heard."
NOT_ADDRESSED = "Heard, but not spoken to: say the wake words first."
STATE_STOPPED = str(Energy.STOPPED)
STOPPED = "Stopped. Say next to go on."
NOT_UNDERSTOOD = "That was not understood. Say next to go on."
SURE_MOVE = 0.2
"""Confidence below which `next` and `back` do not lead guided work on: 24 of 30 heard rightly at 10 dB lie above it, and a step
that was not done is not left behind for a cough."""
OWN_WORDS, OWN_SHARE = 3, 0.75
"""From so many words on, and with so great a share of them in the line that was being said, in its order, what interrupted it
was its own voice."""
SURE_WORD = 0.7
"""Fewer of its words have to be heard more surely than this to be somebody's who says them after it."""
CALLED_WORDS = 2
"""Up to so many words that are not surely heard over an answer are a call to be silent rather than a question."""
MID_ANSWER = (Phase.SPEAKING, Phase.PAUSED, Phase.WAITING, Phase.STOPPED)


def react(talk: Talk, event: Event) -> tuple[Talk, Actions]:
    """One event."""
    match event:
        case SpeechStarted():
            return quietened(talk, Phase.PAUSED) if talk.phase is Phase.SPEAKING else (talk, ())
        case LineSaid(ticket=ticket):
            return _line_said(talk) if ticket == talk.ticket and talk.phase is Phase.SPEAKING else (talk, ())
        case Answered():
            return _answered(talk, lines_of=event)
        case Understood(text=text, heard=heard):
            return _understood(talk, text, heard)


def _line_said(talk: Talk) -> tuple[Talk, Actions]:
    if talk.lines[talk.at].pause_after or talk.at + 1 == len(talk.lines):
        return replace(talk, phase=Phase.WAITING), ()
    return said_from(talk, talk.at + 1)


def _answered(talk: Talk, lines_of: Answered) -> tuple[Talk, Actions]:
    cut: Actions = ()
    if talk.phase is Phase.SPEAKING:
        talk, cut = quietened(talk, Phase.IDLE)
    fresh = replace(
        talk, lines=lines_of.lines, guided=lines_of.guided, choices=lines_of.choices, at=0, reached=0, phase=Phase.IDLE
    )
    if not fresh.lines:
        return fresh, cut
    after, actions = said_from(fresh, 0)
    return after, (*cut, *actions)


def _understood(talk: Talk, text: str, heard: Heard | None) -> tuple[Talk, Actions]:
    addressed = after_wake_words(text)
    if addressed == "":
        return _woken(talk)
    said = text if addressed is None else addressed
    command = command_of(said)
    if command is Command.STOP and heard is not None and _is_declared(talk):
        said, command = STATE_STOPPED, None
    if not said.strip() or (heard is not None and plain(said) in COURTESIES):
        return _resumed(talk, (Note(text=NO_WORDS),))
    if heard is not None and addressed is None and command is None and talk.phase is Phase.PAUSED:
        warning = talk.lines[talk.at].kind is SpokenKind.WARNING
        called = _is_call(talk, said, heard)
        if _is_own(talk, said, heard) or (called and warning):  # said again, please: an echo shall cut no warning off
            return _resumed(talk, ())
        if called:
            return replace(talk, phase=Phase.STOPPED), (Note(text=NOT_UNDERSTOOD),)
    if command in (Command.NEXT, Command.BACK) and heard is not None and talk.guided and heard.confidence < SURE_MOVE:
        return _resumed(talk, (Cue(text=SAY_AGAIN),))
    if talk.open_microphone and heard is not None and addressed is None and not _engaged(talk, said, command):
        return _resumed(talk, (Note(text=NOT_ADDRESSED),))
    talk = replace(talk, awake=False)
    if command is not None:
        return _commanded(talk, command, Ask(text=said, heard=heard))
    reply = reply_of(said)
    if reply is not None:
        return _replied(talk, reply, Ask(text=said, heard=heard))
    return _asked(talk, Ask(text=said, heard=heard))


def _is_own(talk: Talk, said: str, heard: Heard) -> bool:
    """Whether what interrupted the voice is what it was saying itself, the line before among it.

    A choice that its question offers is somebody's answer, and of power nobody speaks in vain.
    """
    if _is_choice(talk, said) or energy_state.speaks_of_power(said):
        return False
    words = plain(said).split()
    line = plain(" ".join(each.text for each in talk.lines[max(0, talk.at - 1) : talk.at + 1])).split()
    blocks = SequenceMatcher(a=words, b=line, autojunk=False).get_matching_blocks()
    if len(words) < OWN_WORDS:
        return heard.confidence < SURE_WORD and max(block.size for block in blocks) == len(words)
    return sum(block.size for block in blocks) >= OWN_SHARE * len(words)


def _is_call(talk: Talk, said: str, heard: Heard) -> bool:
    """Whether a short word over an answer was not understood: "stop" above all, and somebody who calls wants silence."""
    replies = reply_of(said) is not None or _is_choice(talk, said) or energy_state.speaks_of_power(said)
    return heard.confidence < SURE_SENTENCE and len(said.split()) <= CALLED_WORDS and not replies


def _is_choice(talk: Talk, said: str) -> bool:
    """Whether the words are one of the choices of the answer's question."""
    return plain(said) in (plain(choice) for choice in talk.choices)


def _is_declared(talk: Talk) -> bool:
    """Whether "stop" is rather a "stopped" heard short: nothing is being said, and the question offers that state.

    Acted on only after it was read back, as every declaration that is heard.
    """
    return talk.phase is Phase.WAITING and STATE_STOPPED in talk.choices


def _engaged(talk: Talk, said: str, command: Command | None) -> bool:
    """Whether speech on an open microphone is for the assistant without the wake words: it interrupts, or answers it."""
    if talk.awake or talk.phase in (Phase.PAUSED, Phase.SPEAKING):
        return True
    question = question_of(talk)
    asked = question is not None and talk.reached > question
    return talk.phase in MID_ANSWER and (command is not None or asked or reply_of(said) is not None)


def _woken(talk: Talk) -> tuple[Talk, Actions]:
    cut: Actions = ()
    if talk.phase is Phase.SPEAKING:
        talk, cut = quietened(talk, Phase.STOPPED)
    return replace(talk, awake=True, phase=_cut_phase(talk)), (*cut, Cue(text=LISTENING))


def _resumed(talk: Talk, otherwise: Actions) -> tuple[Talk, Actions]:
    """Go on with the line that was cut, from its start, or do what is to be done when none was."""
    if talk.phase is Phase.PAUSED:
        after, actions = said_from(talk, talk.at)
        return after, (NobodySpoke(), *actions)
    return talk, otherwise


def _asked(talk: Talk, ask: Ask) -> tuple[Talk, Actions]:
    cut: Actions = ()
    if talk.phase is Phase.SPEAKING:
        talk, cut = quietened(talk, Phase.STOPPED)
    return replace(talk, phase=_cut_phase(talk)), (*cut, ask)


def _cut_phase(talk: Talk) -> Phase:
    """The phase of a voice that is silent now: a line that was cut is said again by `next`."""
    return Phase.STOPPED if talk.phase in (Phase.SPEAKING, Phase.PAUSED) else talk.phase


def _replied(talk: Talk, reply: Reply, ask: Ask) -> tuple[Talk, Actions]:
    """A bare yes or no is an answer only to a question that was put aloud; before, it lets the voice go on to it."""
    question = question_of(talk)
    if question is not None and talk.reached <= question and talk.phase in MID_ANSWER:
        if not warned(talk):
            return said_from(talk, talk.at if talk.phase in (Phase.PAUSED, Phase.SPEAKING) else talk.reached)
        return said_from(talk, question)
    more = talk.phase in MID_ANSWER and talk.at + 1 < len(talk.lines)
    if question is None and more and reply is Reply.YES:
        return _next(talk, ask)
    return _asked(talk, ask)


def _commanded(talk: Talk, command: Command, ask: Ask) -> tuple[Talk, Actions]:
    match command:
        case Command.STOP:
            after, actions = quietened(talk, _cut_phase(talk))
            return after, (*actions, Note(text=STOPPED))
        case Command.SLOWER | Command.FASTER:
            return _paced(talk, 1 / PACE_STEP if command is Command.SLOWER else PACE_STEP)
        case Command.LOUDER | Command.QUIETER:
            return _voluminous(talk, VOLUME_STEP if command is Command.LOUDER else 1 / VOLUME_STEP)
        case Command.NEXT:
            return _next(talk, ask)
        case Command.BACK:
            return _back(talk, ask)
        case Command.REPEAT:
            return said_from(talk, unit_of(talk)) if talk.lines else (talk, (Cue(text=NOTHING_YET),))
        case Command.WHERE:
            return _where(talk, ask)


def _paced(talk: Talk, factor: float) -> tuple[Talk, Actions]:
    pace = min(FASTEST, max(SLOWEST, talk.pace * factor))
    talk = replace(talk, pace=pace)
    if talk.phase in (Phase.SPEAKING, Phase.PAUSED):
        return said_from(talk, talk.at)
    return talk, (Cue(text="Slower." if factor < 1 else "Faster."),)


def _voluminous(talk: Talk, factor: float) -> tuple[Talk, Actions]:
    volume = min(LOUDEST, max(QUIETEST, talk.volume * factor))
    talk = replace(talk, volume=volume)
    set_volume: Actions = (SetVolume(volume=volume),)
    if talk.phase is Phase.PAUSED:
        talk, actions = said_from(talk, talk.at)
        return talk, (*set_volume, *actions)
    if talk.phase is Phase.SPEAKING:
        return talk, set_volume
    return talk, (*set_volume, Cue(text="Louder." if factor > 1 else "Quieter."))


def _next(talk: Talk, ask: Ask) -> tuple[Talk, Actions]:
    if talk.phase is Phase.STOPPED:
        return said_from(talk, talk.at)
    later = [start for start in unit_starts(talk.lines) if start > talk.at]
    if later:
        return said_from(talk, later[0])
    if talk.guided:
        return _asked(talk, Ask(text=str(Command.NEXT), heard=ask.heard))
    if question_of(talk) is not None:
        return said_from(talk, len(talk.lines) - 1)
    return _resting(talk, ALL_SAID if talk.lines else NOTHING_YET)


def _back(talk: Talk, ask: Ask) -> tuple[Talk, Actions]:
    earlier = [start for start in unit_starts(talk.lines) if start < unit_of(talk)]
    if earlier:
        return said_from(talk, earlier[-1])
    if talk.guided:
        return _asked(talk, Ask(text=str(Command.BACK), heard=ask.heard))
    return said_from(talk, 0) if talk.lines else _resting(talk, NOTHING_YET)


def _where(talk: Talk, ask: Ask) -> tuple[Talk, Actions]:
    if talk.guided:
        return _asked(talk, Ask(text=str(Command.WHERE), heard=ask.heard))
    if not talk.lines:
        return _resting(talk, NOTHING_YET)
    unit = unit_of(talk)
    lead = next((place for place, line in enumerate(talk.lines) if line.kind == "lead"), unit)
    after, actions = said_from(talk, unit)
    if not warned(talk) or lead >= unit:
        return after, actions
    return after, (*actions[:-1], Cue(text=talk.lines[lead].text), actions[-1])


def _resting(talk: Talk, cue: str) -> tuple[Talk, Actions]:
    cut: Actions = ()
    if talk.phase is Phase.SPEAKING:
        talk, cut = quietened(talk, Phase.WAITING)
    return replace(talk, phase=Phase.WAITING if talk.lines else Phase.IDLE), (*cut, Cue(text=cue))
