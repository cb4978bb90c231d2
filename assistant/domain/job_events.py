"""Everything that can happen in a job, as typed events of its append-only log.

`said` are the technician's own words, `asked` and `text` the authored words that stood on the screen then, so that a record
can be read after the knowledge has changed. Minutes are minutes at the machine.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from assistant.domain.job_terms import EventKind, PartUsed, Share, Standing, Verdict
from assistant.domain.terms import Energy


@dataclass(frozen=True, slots=True, kw_only=True)
class Opened:
    """The first event; `fault` is the entry id once known, `knowledge` the digest that advised."""

    kind: ClassVar[EventKind] = EventKind.OPENED
    machine: str
    complaint: str
    fault: str = ""
    knowledge: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultNamed:
    """The complaint is worked on as this fault entry from here."""

    kind: ClassVar[EventKind] = EventKind.FAULT_NAMED
    fault: str


@dataclass(frozen=True, slots=True, kw_only=True)
class EvidenceSeen:
    """Something seen or heard at the machine; `code` when the panel showed one, `none` when it was seen to show none.

    `check` and `outcome` name what of the fault's model it answers, `shares` the outcomes where it leaves several; empty where
    it does not bear on the fault.
    """

    kind: ClassVar[EventKind] = EventKind.EVIDENCE_SEEN
    text: str
    code: str = ""
    check: str = ""
    outcome: str = ""
    shares: tuple[Share, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckAnswered:
    """A check was done; `outcome` is its label, `energy` the declared state then."""

    kind: ClassVar[EventKind] = EventKind.CHECK_ANSWERED
    check: str
    outcome: str
    said: str = ""
    asked: str = ""
    energy: Energy = Energy.UNKNOWN
    minutes: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingTaken:
    """A check's reading; `outcome` is the label it falls under, or `shares` of several when it lies at a limit."""

    kind: ClassVar[EventKind] = EventKind.READING_TAKEN
    check: str
    value: float
    unit: str
    outcome: str = ""
    shares: tuple[Share, ...] = ()
    said: str = ""
    asked: str = ""
    energy: Energy = Energy.UNKNOWN
    minutes: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class NotKnown:
    """A check was tried and nothing came of it."""

    kind: ClassVar[EventKind] = EventKind.NOT_KNOWN
    check: str
    said: str = ""
    asked: str = ""
    energy: Energy = Energy.UNKNOWN
    minutes: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckImpossible:
    """A check cannot or may not be done here."""

    kind: ClassVar[EventKind] = EventKind.CHECK_IMPOSSIBLE
    check: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AnswerRevised:
    """What was said of a check is replaced as if it had been said at once; OPEN takes it back."""

    kind: ClassVar[EventKind] = EventKind.ANSWER_REVISED
    check: str
    to: Standing
    outcome: str = ""
    shares: tuple[Share, ...] = ()
    said: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class RepairDone:
    """A repair was done and not proved yet; `causes` are the ids that it may have cured."""

    kind: ClassVar[EventKind] = EventKind.REPAIR_DONE
    repair: str
    causes: tuple[str, ...] = ()
    parts: tuple[PartUsed, ...] = ()
    text: str = ""
    said: str = ""
    energy: Energy = Energy.UNKNOWN
    minutes: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class RepairImpossible:
    """A repair cannot be done here."""

    kind: ClassVar[EventKind] = EventKind.REPAIR_IMPOSSIBLE
    repair: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ProofPassed:
    """The proof ran and the complaint did not show."""

    kind: ClassVar[EventKind] = EventKind.PROOF_PASSED
    said: str = ""
    minutes: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ProofFailed:
    """The proof ran and the complaint is still there."""

    kind: ClassVar[EventKind] = EventKind.PROOF_FAILED
    said: str = ""
    minutes: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ProcedureStarted:
    """A procedure of so many steps; one begun inside another comes first, then the outer goes on."""

    kind: ClassVar[EventKind] = EventKind.PROCEDURE_STARTED
    procedure: str
    steps: int
    text: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class StepConfirmed:
    """Step `step` (from 1) is done."""

    kind: ClassVar[EventKind] = EventKind.STEP_CONFIRMED
    procedure: str
    step: int
    text: str = ""
    said: str = ""
    minutes: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldConfirmed:
    """One item of the hold point at a step."""

    kind: ClassVar[EventKind] = EventKind.HOLD_CONFIRMED
    procedure: str
    step: int
    item: str
    said: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class StepSkipped:
    """A step was left out, and why."""

    kind: ClassVar[EventKind] = EventKind.STEP_SKIPPED
    procedure: str
    step: int
    reason: str
    text: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ProcedureStopped:
    """A procedure was given up before its end, and why."""

    kind: ClassVar[EventKind] = EventKind.PROCEDURE_STOPPED
    procedure: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ValueAsked:
    """A value was asked for and judged against `limits` (as printed); `value` None when none was given."""

    kind: ClassVar[EventKind] = EventKind.VALUE_ASKED
    name: str
    verdict: Verdict
    value: float | None = None
    unit: str = ""
    limits: str = ""
    said: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class EnergyDeclared:
    """What the technician declared of the machine; `items` are the confirmed ones of an isolation."""

    kind: ClassVar[EventKind] = EventKind.ENERGY_DECLARED
    energy: Energy
    items: tuple[str, ...] = ()
    said: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class IsolationItemConfirmed:
    """One item on the way to an isolation."""

    kind: ClassVar[EventKind] = EventKind.ISOLATION_ITEM
    item: str
    said: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class IsolationVoided:
    """What was confirmed of an isolation holds no more; nothing is known of the machine's energy after it."""

    kind: ClassVar[EventKind] = EventKind.ISOLATION_VOIDED
    reason: str
    said: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class WarningsShown:
    """Ids of the safety messages shown, in their order."""

    kind: ClassVar[EventKind] = EventKind.WARNINGS_SHOWN
    ids: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class QuestionAsked:
    """A question beside the guided work and the entry that answered it; empty when nothing did."""

    kind: ClassVar[EventKind] = EventKind.QUESTION_ASKED
    question: str
    entry: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class NoteTaken:
    """A note for whoever reads the record."""

    kind: ClassVar[EventKind] = EventKind.NOTE_TAKEN
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Left:
    """The job was left unfinished: how the machine stands, and what must not be done with it."""

    kind: ClassVar[EventKind] = EventKind.LEFT
    machine_state: str
    must_not: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Resumed:
    """Somebody took the job up again; what was declared before is not known to hold any more."""

    kind: ClassVar[EventKind] = EventKind.RESUMED
    text: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Closed:
    """The end; `found` shares sum to one, or are empty when no cause was found."""

    kind: ClassVar[EventKind] = EventKind.CLOSED
    found: tuple[Share, ...] = ()
    text: str = ""
    handed_over_to: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Amended:
    """What was learnt after the end; `found` replaces the shares, None leaves them."""

    kind: ClassVar[EventKind] = EventKind.AMENDED
    reason: str
    found: tuple[Share, ...] | None = None


Detail = (
    Opened
    | FaultNamed
    | EvidenceSeen
    | CheckAnswered
    | ReadingTaken
    | NotKnown
    | CheckImpossible
    | AnswerRevised
    | RepairDone
    | RepairImpossible
    | ProofPassed
    | ProofFailed
    | ProcedureStarted
    | StepConfirmed
    | HoldConfirmed
    | StepSkipped
    | ProcedureStopped
    | ValueAsked
    | EnergyDeclared
    | IsolationItemConfirmed
    | IsolationVoided
    | WarningsShown
    | QuestionAsked
    | NoteTaken
    | Left
    | Resumed
    | Closed
    | Amended
)
