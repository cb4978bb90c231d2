"""Words -> a command to the voice, the wake words, and what may be said now."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from enum import StrEnum

from assistant.domain.sound import Expectation, Outlook
from assistant.domain.turn import Pending


class Command(StrEnum):
    """What always works, also while it talks."""

    NEXT = "next"
    BACK = "back"
    REPEAT = "repeat"
    WHERE = "where was I"
    SLOWER = "slower"
    FASTER = "faster"
    LOUDER = "louder"
    QUIETER = "quieter"
    STOP = "stop"


PHRASES: dict[Command, tuple[str, ...]] = {
    Command.NEXT: ("next", "next one", "next step", "next check", "go on", "go ahead", "carry on", "continue", "and then", "more"),
    Command.BACK: ("back", "go back", "one back", "step back", "previous", "previous step", "previous one"),
    Command.REPEAT: ("repeat", "repeat that", "again", "say again", "say that again", "once more", "pardon", "what was that", "come again"),
    Command.WHERE: ("where was i", "where am i", "where were we", "where are we", "which step"),
    Command.SLOWER: ("slower", "slow down", "more slowly", "too fast", "not so fast"),
    Command.FASTER: ("faster", "speed up", "quicker", "too slow"),
    Command.LOUDER: ("louder", "speak up", "too quiet", "i can't hear you", "i cannot hear you"),
    Command.QUIETER: ("quieter", "softer", "too loud", "not so loud"),
    Command.STOP: ("stop", "stop talking", "stop it", "be quiet", "quiet", "silence", "shut up", "enough", "hush", "wait",
                   "hold on", "hang on", "one moment"),
}  # fmt: skip
"""Whole utterances only: "power is back on" and "where am i to look" are no commands."""
_COMMANDS = {phrase: command for command, phrases in PHRASES.items() for phrase in phrases} | {"stops": Command.STOP}
"""With what a recogniser makes of one of them and nobody means otherwise."""
_POLITE = re.compile(r"^(?:ok(?:ay)?|please|right|now|just|can you|could you)\b\s*|\s*\b(?:please|now|then|thanks)$")
COURTESIES = frozenset(
    {"thank you", "thanks", "thank you very much", "thanks a lot", "cheers", "you", "bye", "bye bye"}
)
"""Words that want no answer. Whisper writes the most of them by itself where nobody speaks, over an echo or a knock (measured on
virtual devices: "Thank you." of the loudspeaker's own echo)."""
WAKE_WORDS = "hand lamp"
PRIMING = "Hand lamp,"
"""As whisper writes the wake words before a question. Of 30 addressed utterances in six synthetic voices they were found in
29 without and 30 with it, at 10 dB in hall noise in 13 and 25; in none of 40 others, clean and in noise, with or without."""
_WAKE = re.compile(
    r"^(?:(?:hey|hello|hi|okay|ok) )?(?:(?:hand|and|hands|ham|hen|hound) ?(?:lamps?|lamb|land|lam|lump|lab)|hands up|handlamps?)\b ?"
)
"""The wake words and what the recognisers make of them; only at the start of an utterance."""
Asked = Callable[[Sequence[str]], Outlook]
REPLIES = ("yes", "no", "don't know", "not sure")
GUIDED_WORDS = ("why", "what else", "skip", "how far", "check again", "stop and keep")
"""What guided work takes besides, in the words that the chat's help names."""


def plain(text: str) -> str:
    """Lower case, no punctuation, single spaces."""
    return " ".join(re.sub(r"[^\w\s']", " ", text.lower().replace("’", "'")).split())


def command_of(text: str) -> Command | None:
    """The command when the utterance is that and nothing else; a word said twice counts once ("next, next")."""
    words = plain(text)
    while words not in _COMMANDS and (shorter := _POLITE.sub("", words).strip()) not in ("", words):
        words = shorter
    once = words.split()
    if len(set(once)) == 1:
        words = once[0]
    return _COMMANDS.get(words)


def after_wake_words(text: str) -> str | None:
    """What follows the wake words, "" when nothing does; None when they were not said."""
    words = plain(text)
    match = _WAKE.match(words)
    if match is None:
        return None
    count = len(words[: match.end()].split())
    return _without_words(text, count)


def without_wake_words(text: str) -> str:
    """What follows the wake words, or the text as it is when they were not said or nothing follows."""
    return after_wake_words(text) or text


def _without_words(text: str, count: int) -> str:
    """The text as it was heard, after its first `count` words."""
    found = list(re.finditer(r"[\w'’]+", text))
    return text[found[count - 1].end() :].lstrip(" ,.;:!?-") if count <= len(found) else ""


def expectation(
    pending: Pending | None,
    terms: tuple[str, ...],
    *,
    awake: bool,
    guided: bool = False,
    answered: bool = False,
    outlook: Asked | None = None,
) -> Expectation:
    """What may be said now: the choices of a question, commands and replies; anything when nothing is asked.

    `answered`: there is an answer that commands lead through, so that one of them is more likely than other words so short.

    `awake` is false on an open microphone that has to hear the wake words first: a closed grammar then holds them too, and
    an open recogniser is primed with them before anything else (measured, see `PRIMING`). `guided`: work is led step by step.
    """
    if not awake:
        terms = (PRIMING, *terms)
    commands = tuple(phrase for phrases in PHRASES.values() for phrase in phrases)
    if pending is None or not pending.choices:
        return Expectation(phrases=commands if answered else (), only=False, terms=terms, outlook=outlook)
    numbers = tuple(("one", "two", "three", "four", "five", "six", "seven", "eight", "nine")[: len(pending.choices)])
    choices = tuple(
        dict.fromkeys(
            (
                *(plain(choice) for choice in pending.choices),
                *REPLIES,
                *numbers,
                *commands,
                *(GUIDED_WORDS if guided else ()),
            )
        )
    )
    wake = () if awake else (WAKE_WORDS, *(f"{WAKE_WORDS} {phrase}" for phrase in choices))
    return Expectation(phrases=(*choices, *wake), terms=terms, outlook=outlook)
