"""A job as it stands -> the conversation that goes on with it; the machine's energy state is never taken over."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

from assistant.domain import fault_log
from assistant.domain.fault_log import Event
from assistant.domain.guide import Isolating, Pacing, Work
from assistant.domain.job import BeliefEvent, JobState
from assistant.domain.job_events import (
    AnswerRevised,
    CheckAnswered,
    CheckImpossible,
    EvidenceSeen,
    NotKnown,
    ProofFailed,
    ProofPassed,
    ReadingTaken,
    RepairDone,
    RepairImpossible,
)
from assistant.domain.job_terms import Share, Standing
from assistant.domain.terms import EntryId
from assistant.domain.turn import Conversation, State


def conversation_of(state: JobState, known: Collection[EntryId]) -> Conversation:
    """Scope, hunt and step of the job; what is no longer among the `known` entries is left out."""
    fault = EntryId(state.job.fault)
    hunt = None
    if fault in known:
        beside = tuple(item.code for item in state.evidence if item.code and not item.check)
        hunt = Isolating(fault=fault, log=tuple(event_of(item) for item in state.belief), beside=beside)
    at = state.position
    pace = None
    if at is not None and EntryId(at.procedure) in known:
        skipped = tuple(step - 1 for step in at.skipped)
        pace = Pacing(procedure=EntryId(at.procedure), at=at.next_step - 1, skipped=skipped)
    focus = pace.procedure if pace is not None else hunt.fault if hunt is not None else None
    return Conversation(
        scope=state.job.machine or None,
        state=State(job=str(state.job.id)),
        work=Work(isolating=hunt, pacing=pace),
        focus=focus,
    )


def event_of(item: BeliefEvent) -> Event:
    """What fault isolation reasons from, as it was before it was written down."""
    match item:
        case CheckAnswered(check=check, outcome=outcome):
            return fault_log.Answered(check=check, outcome=outcome)
        case EvidenceSeen(check=check, outcome=outcome, shares=shares, code=code):
            return replace(_reading(check, outcome, shares), seen=code)
        case ReadingTaken(check=check, outcome=outcome, shares=shares):
            return _reading(check, outcome, shares)
        case NotKnown(check=check):
            return fault_log.DontKnow(check=check)
        case CheckImpossible(check=check):
            return fault_log.CantCheck(check=check)
        case AnswerRevised():
            return fault_log.Revised(check=item.check, to=_revised_to(item))
        case RepairDone(repair=repair):
            return fault_log.Repaired(repair=repair)
        case RepairImpossible(repair=repair):
            return fault_log.CantRepair(repair=repair)
        case ProofPassed():
            return fault_log.ProofPassed()
        case ProofFailed():
            return fault_log.ProofFailed()


def _reading(check: str, outcome: str, shares: tuple[Share, ...]) -> fault_log.Answered | fault_log.ReadingNear:
    if outcome:
        return fault_log.Answered(check=check, outcome=outcome)
    return fault_log.ReadingNear(check=check, shares=tuple((share.name, share.share) for share in shares))


def _revised_to(item: AnswerRevised) -> fault_log.Said | None:
    match item.to:
        case Standing.OPEN:
            return None
        case Standing.NOT_KNOWN:
            return fault_log.DontKnow(check=item.check)
        case Standing.IMPOSSIBLE:
            return fault_log.CantCheck(check=item.check)
        case _:
            return _reading(item.check, item.outcome, item.shares)
