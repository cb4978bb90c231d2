"""A job: one line of its log, and how it stands after its events; only the log is stored."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from assistant.domain.job_events import (
    Amended,
    AnswerRevised,
    CheckAnswered,
    CheckImpossible,
    Detail,
    EvidenceSeen,
    Left,
    NotKnown,
    ProofFailed,
    ProofPassed,
    ReadingTaken,
    RepairDone,
    RepairImpossible,
)
from assistant.domain.job_terms import JobId, Share, Standing
from assistant.domain.terms import Energy


class JobStatus(StrEnum):
    """Where a job is in its life."""

    OPEN = "open"
    LEFT_OPEN = "left open"
    CLOSED = "closed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """The head of a job; `who` opened it, `closed_at` is empty until it is closed."""

    id: JobId
    machine: str
    complaint: str
    fault: str
    who: str
    opened_at: str
    closed_at: str = ""
    status: JobStatus = JobStatus.OPEN


@dataclass(frozen=True, slots=True, kw_only=True)
class JobEvent:
    """One line of a job's log; `seq` counts from 1 within the job, `at` is an ISO 8601 time with its offset."""

    job: JobId
    seq: int
    at: str
    who: str
    detail: Detail


@dataclass(frozen=True, slots=True, kw_only=True)
class ProcedurePosition:
    """Where a procedure stands: `next_step` (from 1) is the one to do, `holds` its hold items confirmed so far."""

    procedure: str
    steps: int
    next_step: int = 1
    holds: tuple[str, ...] = ()
    skipped: tuple[int, ...] = ()

    @property
    def step_id(self) -> str:
        """`entry#n`, as in an answer's state."""
        return f"{self.procedure}#{self.next_step}"


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckStanding:
    """What holds of one check; `seq` is the event that it was first said in, or last retaken in."""

    check: str
    standing: Standing
    seq: int
    outcome: str = ""
    shares: tuple[Share, ...] = ()
    value: float | None = None
    unit: str = ""


BeliefEvent = (
    CheckAnswered
    | EvidenceSeen
    | ReadingTaken
    | NotKnown
    | CheckImpossible
    | AnswerRevised
    | RepairDone
    | RepairImpossible
    | ProofPassed
    | ProofFailed
)
"""What fault isolation reasons from, in the order in which it happened."""


@dataclass(frozen=True, slots=True, kw_only=True)
class JobState:
    """A job after its first `seq` events.

    `procedures` is a stack: the last one is being worked on. `belief` is the log for fault isolation, `standings` what holds of
    each check after all revisions, in the order of the answers. `unproved` are the repairs since the last proof, `last_repair`
    the number of the last repair's event (0: none). `proved`: the last proof passed and no repair came after it. `minutes` is
    the sum of all minutes said; nothing is refunded when an answer is revised.
    """

    job: Job
    seq: int
    last_at: str
    energy: Energy = Energy.UNKNOWN
    isolation_items: tuple[str, ...] = ()
    procedures: tuple[ProcedurePosition, ...] = ()
    finished: tuple[str, ...] = ()
    belief: tuple[BeliefEvent, ...] = ()
    standings: tuple[CheckStanding, ...] = ()
    evidence: tuple[EvidenceSeen, ...] = ()
    repairs: tuple[RepairDone, ...] = ()
    unproved: tuple[str, ...] = ()
    last_repair: int = 0
    proved: bool = False
    warnings: tuple[str, ...] = ()
    minutes: float = 0.0
    found: tuple[Share, ...] = ()
    handed_over_to: str = ""
    left: Left | None = None
    amendments: tuple[Amended, ...] = ()

    @property
    def position(self) -> ProcedurePosition | None:
        """The procedure being worked on."""
        return self.procedures[-1] if self.procedures else None

    @property
    def step(self) -> str | None:
        """`entry#n` of the step to do next."""
        return self.position.step_id if self.position else None
