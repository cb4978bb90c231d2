"""The answer: the only thing that a renderer takes. Only `assistant.rules` makes one (a test reads the sources)."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from assistant.domain.calculation import Result
from assistant.domain.search import Hit
from assistant.domain.terms import EntryId, Hazard, SignalWord
from assistant.domain.turn import Pending, State
from assistant.domain.utterance import Heard


class Outcome(StrEnum):
    """How a turn ended."""

    ANSWERED = "answered"
    NOT_COVERED = "not_covered"
    REFUSED = "refused"
    WHICH_MACHINE = "which_machine"
    ASK_AGAIN = "ask_again"
    STEP = "step"
    CHECK = "check"
    READING = "reading"
    DONE = "done"
    ERROR = "error"


class Role(StrEnum):
    """What a line of the body is, for the renderer's layout."""

    SENTENCE = "sentence"
    HEADING = "heading"
    STEP = "step"
    ITEM = "item"
    NOTE = "note"


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line of the body and the entry it was taken from; headings have no source and hold no figure.

    `computed` are the figures in it that a calculation has given: chances, minutes, places in a row. What is `aside` stands on
    the screen, and is said aloud only where it was asked for; what is `ahead` answers the last utterance, before the lead.
    """

    text: str
    role: Role = Role.SENTENCE
    source: EntryId | None = None
    computed: tuple[str, ...] = ()
    aside: bool = False
    ahead: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class SafetyWarning:
    """A safety message as shown, verbatim."""

    id: str
    signal_word: SignalWord
    hazard: Hazard
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """One turn's answer, in the order in which it is shown: warnings, lead, body, sources, what to ask next."""

    question: str
    outcome: Outcome
    heard: Heard | None = None
    machine: str | None = None
    hits: tuple[Hit, ...] = ()
    codes: tuple[str, ...] = ()
    designations: tuple[str, ...] = ()
    warnings: tuple[SafetyWarning, ...] = ()
    refusal: EntryId | None = None
    lead: str = ""
    body: tuple[Line, ...] = ()
    sources: tuple[EntryId, ...] = ()
    ask_next: tuple[str, ...] = ()
    notice: str = ""
    composer: str = ""
    pending: Pending | None = None
    state: State = State()
    elapsed_ms: tuple[tuple[str, float], ...] = ()
    calculation: Result | None = None
