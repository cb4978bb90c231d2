"""What happened in a session, event by event, and what may be done next."""

from __future__ import annotations

from dataclasses import dataclass

from assistant.domain.terms import Energy


@dataclass(frozen=True, slots=True, kw_only=True)
class Answered:
    """A check was done and gave this outcome (its label); `seen` is the code on the panel that answered it, if one did."""

    check: str
    outcome: str
    seen: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingNear:
    """A reading within the meter's tolerance of a limit: shares of the outcomes it may stand for, any scale.

    With a code `seen` it is that code which leaves several outcomes; the check stays open, and its answer replaces this.
    """

    check: str
    shares: tuple[tuple[str, float], ...]
    seen: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class DontKnow:
    """A check was tried and nothing came of it: the time is spent, the belief stays."""

    check: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CantCheck:
    """A check cannot or may not be done here: no time, withdrawn."""

    check: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Revised:
    """What was said of a check is replaced as if it had been said at once; None takes it back and opens the check again."""

    check: str
    to: Answered | ReadingNear | DontKnow | CantCheck | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Repaired:
    """A repair was done and not proved yet."""

    repair: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CantRepair:
    """A repair cannot be done here (no part, not allowed): withdrawn."""

    repair: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ProofPassed:
    """The proof ran once and the complaint did not show."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ProofFailed:
    """The proof ran and the complaint is still there."""


Said = Answered | ReadingNear | DontKnow | CantCheck
Event = Said | Revised | Repaired | CantRepair | ProofPassed | ProofFailed
Log = tuple[Event, ...]


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class DoCheck:
    """A check in a state."""

    check: str
    energy: Energy


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class DoRepair:
    """A repair in a state."""

    repair: str
    energy: Energy


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class Prove:
    """The proof; `passes` is how many it takes in a row from here."""

    energy: Energy
    passes: int = 1


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class HandOver:
    """The job goes to somebody else: always ends it."""


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class ChangeState:
    """A change of energy state, a step of its own with its minutes; what it is for follows it."""

    start: Energy
    end: Energy
    minutes: float


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class Finish:
    """Nothing is left to do: the proof has passed often enough."""


Work = DoCheck | DoRepair | Prove | HandOver | Finish
Action = Work | ChangeState


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """An action, the expected minutes to the end of the job when it is taken now, and its own minutes with the ladder."""

    action: Work
    minutes_left: float
    own_minutes: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """The chosen action with its numbers.

    `step` is what to say now: the change of state if the action needs one, else the action. `options` are all actions that were
    valued, best first (the ones beyond the closest candidates by one step only); `ties` those as cheap as the chosen one,
    `near` those within a minute. `repair_minutes` is the cost of repairing without another check.
    """

    action: Work
    step: Action
    minutes_left: float
    own_minutes: float
    repair_minutes: float
    options: tuple[Option, ...] = ()
    ties: tuple[Work, ...] = ()
    near: tuple[Work, ...] = ()

    @property
    def saving_minutes(self) -> float:
        """What looking first saves against repairing at once."""
        return self.repair_minutes - self.minutes_left
