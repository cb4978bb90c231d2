"""Where the technician is in guided work: hunting a fault, or going through a procedure step by step."""

from __future__ import annotations

from dataclasses import dataclass

from assistant.domain.fault_log import Log
from assistant.domain.terms import EntryId


@dataclass(frozen=True, slots=True, kw_only=True)
class Isolating:
    """A fault being hunted: what was done and said so far, and a repair chosen by the technician before the planner would.

    `missed` counts answers in a row that fitted no outcome; `meant` the outcome that the last one seems to mean, which is
    asked back before it is taken; `beside` are codes that were seen and do not count in this hunt, `named` the code that was
    named last, "" once something else was answered; `over` how it ended, "" while it goes on.
    """

    fault: EntryId
    log: Log = ()
    chosen: str = ""
    missed: int = 0
    meant: str = ""
    beside: tuple[str, ...] = ()
    named: str = ""
    over: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class StepReading:
    """A figure given at a step (0-based), in the unit of the authored limits that it was held against (as printed)."""

    at: int
    text: str
    value: float
    unit: str
    limits: str
    below: bool = False
    above: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Pacing:
    """A procedure being gone through: `at` is the place of the step that is due (0-based), steps and proof in one row."""

    procedure: EntryId
    at: int = 0
    skipped: tuple[int, ...] = ()
    readings: tuple[StepReading, ...] = ()
    missed: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """What is going on; a procedure lies on top of the hunt that it was begun from."""

    isolating: Isolating | None = None
    pacing: Pacing | None = None

    @property
    def going_on(self) -> bool:
        """Whether anything is."""
        return self.pacing is not None or (self.isolating is not None and not self.isolating.over)
