"""One event -> one line for people, the same in every export: what happened, to what, with what result, in whose words."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from assistant.domain.job import JobEvent
from assistant.domain.job_events import (
    Amended,
    AnswerRevised,
    CheckAnswered,
    Closed,
    Detail,
    EnergyDeclared,
    EvidenceSeen,
    FaultNamed,
    HoldConfirmed,
    IsolationItemConfirmed,
    Left,
    NoteTaken,
    Opened,
    ProcedureStarted,
    QuestionAsked,
    ReadingTaken,
    RepairDone,
    StepConfirmed,
    StepSkipped,
    ValueAsked,
    WarningsShown,
)
from assistant.domain.job_terms import EventKind, Share
from assistant.domain.panel import panel_name

TITLES: Mapping[EventKind, str] = {
    EventKind.OPENED: "Job opened",
    EventKind.FAULT_NAMED: "Worked on as",
    EventKind.EVIDENCE_SEEN: "Seen",
    EventKind.CHECK_ANSWERED: "Check answered",
    EventKind.READING_TAKEN: "Reading",
    EventKind.NOT_KNOWN: "Check without result",
    EventKind.CHECK_IMPOSSIBLE: "Check not possible",
    EventKind.ANSWER_REVISED: "Answer revised",
    EventKind.REPAIR_DONE: "Repair done",
    EventKind.REPAIR_IMPOSSIBLE: "Repair not possible",
    EventKind.PROOF_PASSED: "Proof passed",
    EventKind.PROOF_FAILED: "Proof failed",
    EventKind.PROCEDURE_STARTED: "Procedure started",
    EventKind.STEP_CONFIRMED: "Step done",
    EventKind.HOLD_CONFIRMED: "Hold item confirmed",
    EventKind.STEP_SKIPPED: "Step skipped",
    EventKind.PROCEDURE_STOPPED: "Procedure stopped",
    EventKind.VALUE_ASKED: "Value judged",
    EventKind.ENERGY_DECLARED: "Energy declared",
    EventKind.ISOLATION_ITEM: "Isolation item confirmed",
    EventKind.ISOLATION_VOIDED: "Isolation void",
    EventKind.WARNINGS_SHOWN: "Warnings shown",
    EventKind.QUESTION_ASKED: "Question",
    EventKind.NOTE_TAKEN: "Note",
    EventKind.LEFT: "Job left",
    EventKind.RESUMED: "Job resumed",
    EventKind.CLOSED: "Job closed",
    EventKind.AMENDED: "Amended",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class LogLine:
    """One event as columns; `words` are the technician's, `text` the authored ones shown then, figures are printed."""

    seq: int
    at: str
    who: str
    kind: EventKind
    title: str
    subject: str
    result: str
    value: str
    unit: str
    energy: str
    minutes: str
    words: str
    text: str


def visible(text: str) -> str:
    """The text on one line, without characters that steer a terminal or turn the direction of writing."""
    spaced = " ".join(text.split())
    return "".join("\ufffd" if unicodedata.category(c) in {"Cc", "Cf", "Co", "Cs", "Zl", "Zp"} else c for c in spaced)


def figure(value: float | None) -> str:
    """A figure without trailing zeros; empty for none."""
    return "" if value is None else format(value, ".12g")


def shares_in_words(shares: Sequence[Share]) -> str:
    """`relay 70 %, cable 30 %`; one whole share is its name alone."""
    if len(shares) == 1:
        return shares[0].name
    return ", ".join(f"{share.name} {figure(round(100 * share.share, 1))} %" for share in shares)


def log_line(event: JobEvent) -> LogLine:
    """The event in columns."""
    detail = event.detail
    minutes = getattr(detail, "minutes", 0.0)
    return LogLine(
        seq=event.seq,
        at=event.at,
        who=event.who,
        kind=detail.kind,
        title=TITLES[detail.kind],
        subject=_subject(detail),
        result=_result(detail),
        value=figure(getattr(detail, "value", None)),
        unit=getattr(detail, "unit", ""),
        energy="" if isinstance(detail, EnergyDeclared) else str(getattr(detail, "energy", "")),
        minutes=figure(minutes) if minutes else "",
        words=_words(detail),
        text=_text(detail),
    )


def _subject(detail: Detail) -> str:
    match detail:
        case StepConfirmed() | StepSkipped() | HoldConfirmed():
            return f"{detail.procedure}#{detail.step}"
        case Opened(machine=machine):
            return machine
        case EvidenceSeen(code=code):
            return panel_name(code) if code else ""
        case QuestionAsked(entry=entry):
            return entry
        case IsolationItemConfirmed(item=item):
            return item
        case FaultNamed(fault=fault):
            return fault
        case ValueAsked(name=name):
            return name
        case EnergyDeclared(energy=energy):
            return str(energy)
        case _:
            for name in ("check", "repair", "procedure"):
                if hasattr(detail, name):
                    return str(getattr(detail, name))
            return ""


def _result(detail: Detail) -> str:
    match detail:
        case CheckAnswered(outcome=outcome):
            return outcome
        case ReadingTaken(outcome=outcome, shares=shares) | EvidenceSeen(outcome=outcome, shares=shares):
            return outcome or shares_in_words(shares)
        case AnswerRevised(to=to, outcome=outcome, shares=shares):
            return ": ".join(part for part in (str(to), outcome or shares_in_words(shares)) if part)
        case RepairDone(causes=causes, parts=parts):
            used = ", ".join(f"{part.quantity} × {part.part}" for part in parts)
            named = ", ".join(causes)
            return "; ".join(p for p in (f"against {named}" if named else "", f"used {used}" if used else "") if p)
        case ProcedureStarted(steps=steps):
            return f"{steps} steps"
        case HoldConfirmed(item=item):
            return item
        case ValueAsked(verdict=verdict, limits=limits):
            return f"{verdict} {limits}".strip()
        case EnergyDeclared(items=items):
            return ", ".join(items)
        case WarningsShown(ids=ids):
            return ", ".join(ids)
        case QuestionAsked(entry=entry):
            return "" if entry else "not covered"
        case Opened(fault=fault):
            return fault
        case _:
            return _ending(detail)


def _ending(detail: Detail) -> str:
    match detail:
        case Left(must_not=must_not):
            return "; ".join(f"must not: {item}" for item in must_not)
        case Closed(found=found, handed_over_to=handed):
            cause = f"found {shares_in_words(found)}" if found else "no cause found"
            return f"{cause}; handed over to {handed}" if handed else cause
        case Amended(found=found) if found is not None:
            return f"found {shares_in_words(found)}" if found else "no cause found"
        case _:
            return ""


def _words(detail: Detail) -> str:
    match detail:
        case Opened(complaint=words) | QuestionAsked(question=words) | Left(machine_state=words):
            return words
        case EvidenceSeen(text=words) | NoteTaken(text=words) | Closed(text=words):
            return words
        case _:
            return str(getattr(detail, "reason", "") or getattr(detail, "said", ""))


def _text(detail: Detail) -> str:
    if isinstance(detail, EvidenceSeen | NoteTaken | Closed):
        return ""
    return str(getattr(detail, "asked", "") or getattr(detail, "text", ""))
