"""The state of a conversation between two turns."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from assistant.domain.calculation import Given
from assistant.domain.guide import Work
from assistant.domain.terms import Energy, EntryId


class PendingKind(StrEnum):
    """What is asked of the user."""

    CHECK = "check"
    CONFIRM = "confirm"
    READING = "reading"
    MACHINE = "machine"


@dataclass(frozen=True, slots=True, kw_only=True)
class Pending:
    """A question put to the user, the answers that are taken, and the entry whose words they are."""

    kind: PendingKind
    text: str
    choices: tuple[str, ...] = ()
    source: EntryId | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Calculating:
    """A calculation that waits for a figure: what was given so far, the input asked for, the question put to the user.

    `component` is what it is about; `before` is what was asked of the user before it, and is asked again after it;
    `missed` counts answers in a row that could not be taken.
    """

    calculator: str
    given: tuple[Given, ...]
    asks: str
    pending: Pending
    component: EntryId | None = None
    before: Pending | None = None
    missed: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """What was declared of the machine, and where in the work the technician is."""

    energy: Energy = Energy.UNKNOWN
    job: str | None = None
    step: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Conversation:
    """What one turn leaves for the next.

    `confirmed` holds the isolation items said yes to, `asked` the question that waits for the machine or the isolation,
    `focus` the entry last answered from, `isolated` the machine that the isolation was confirmed for, once known, `work` the
    guided work that goes on, `calculating` the calculation that waits for a figure. `off_at_s`: when it was said that the
    supply is off, on the utterances' clock; None where that is not known. `shown` are the codes that were said to stand on the
    panel before a hunt began.
    """

    scope: str | None = None
    state: State = field(default_factory=State)
    pending: Pending | None = None
    confirmed: tuple[str, ...] = ()
    asked: str = ""
    focus: EntryId | None = None
    isolated: str | None = None
    off_at_s: float | None = None
    work: Work = Work()
    calculating: Calculating | None = None
    shown: tuple[str, ...] = ()
