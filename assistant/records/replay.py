"""Events -> how the job stands. The only place in which state comes from; what is stored is the log alone."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from assistant.domain.job import CheckStanding, Job, JobEvent, JobState, JobStatus, ProcedurePosition
from assistant.domain.job_events import (
    Amended,
    AnswerRevised,
    CheckAnswered,
    CheckImpossible,
    Closed,
    Detail,
    EnergyDeclared,
    EvidenceSeen,
    FaultNamed,
    HoldConfirmed,
    IsolationItemConfirmed,
    IsolationVoided,
    Left,
    NotKnown,
    Opened,
    ProcedureStarted,
    ProcedureStopped,
    ProofFailed,
    ProofPassed,
    ReadingTaken,
    RepairDone,
    RepairImpossible,
    Resumed,
    StepConfirmed,
    StepSkipped,
    WarningsShown,
)
from assistant.domain.job_terms import Standing
from assistant.domain.terms import Energy
from assistant.errors import RecordBroken
from assistant.records.admission import admit


def replayed(events: Iterable[JobEvent]) -> JobState:
    """The state after all events of one job, in their order.

    Raises:
        RecordBroken: there are none, or their numbers have a gap.
        EventRefused: an event that could not have happened.

    """
    state: JobState | None = None
    for event in events:
        state = folded(state, event)
    if state is None:
        raise RecordBroken("A job without events.", "`handlamp jobs verify` lists what is wrong with the record.")
    return state


def folded(state: JobState | None, event: JobEvent) -> JobState:
    """The state after one more event; None stands before the first.

    Raises:
        RecordBroken: the event is not the next one of that job.
        EventRefused: an event that could not have happened.

    """
    admit(state, event.detail)
    due = 1 if state is None else state.seq + 1
    if event.seq != due or (state is not None and event.job != state.job.id):
        raise RecordBroken(
            f"Event {event.seq} of job {event.job} stands where event {due} belongs.",
            "`handlamp jobs verify` lists what is wrong with the record.",
        )
    if state is None:
        return _opened(event)
    detail = event.detail
    before = replace(
        state, seq=event.seq, last_at=event.at, minutes=state.minutes + float(getattr(detail, "minutes", 0.0))
    )
    for fold in (_checks, _repairs, _procedures, _energy, _shown):
        before = fold(before, detail)
    return _life(before, event)


def _opened(event: JobEvent) -> JobState:
    assert isinstance(event.detail, Opened)  # admit lets nothing else begin a job
    job = Job(
        id=event.job,
        machine=event.detail.machine,
        complaint=event.detail.complaint,
        fault=event.detail.fault,
        who=event.who,
        opened_at=event.at,
    )
    return JobState(job=job, seq=event.seq, last_at=event.at)


def _life(state: JobState, event: JobEvent) -> JobState:
    job = state.job
    match event.detail:
        case FaultNamed(fault=fault):
            return replace(state, job=replace(job, fault=fault))
        case Left() as left:
            return replace(state, job=replace(job, status=JobStatus.LEFT_OPEN), left=left)
        case Resumed():
            # Nobody knows what happened at the machine in between: the place in the work stays, the isolation does not.
            return replace(
                state, job=replace(job, status=JobStatus.OPEN), left=None, energy=Energy.UNKNOWN, isolation_items=()
            )
        case Closed(found=found, handed_over_to=handed):
            job = replace(job, status=JobStatus.CLOSED, closed_at=event.at)
            return replace(state, job=job, found=found, handed_over_to=handed)
        case Amended(found=found) as amended:
            kept = state.found if found is None else found
            return replace(state, found=kept, amendments=(*state.amendments, amended))
        case _:
            return state


def _checks(state: JobState, detail: Detail) -> JobState:
    standing: CheckStanding
    seq = state.seq
    match detail:
        case CheckAnswered(check=check, outcome=outcome):
            standing = CheckStanding(check=check, standing=Standing.ANSWERED, seq=seq, outcome=outcome)
        case EvidenceSeen(check=check, outcome=outcome, shares=shares) if check:
            kind = Standing.NEAR_LIMIT if shares else Standing.ANSWERED
            standing = CheckStanding(check=check, standing=kind, seq=seq, outcome=outcome, shares=shares)
        case ReadingTaken(check=check, shares=shares, outcome=outcome, value=value, unit=unit):
            kind = Standing.NEAR_LIMIT if shares else Standing.ANSWERED
            standing = CheckStanding(
                check=check, standing=kind, seq=seq, outcome=outcome, shares=shares, value=value, unit=unit
            )
        case NotKnown(check=check):
            standing = CheckStanding(check=check, standing=Standing.NOT_KNOWN, seq=seq)
        case CheckImpossible(check=check):
            standing = CheckStanding(check=check, standing=Standing.IMPOSSIBLE, seq=seq)
        case AnswerRevised():
            return _revised(state, detail)
        case _:
            return state
    others = tuple(s for s in state.standings if s.check != standing.check)
    return replace(state, standings=(*others, standing), belief=(*state.belief, detail))


def _revised(state: JobState, detail: AnswerRevised) -> JobState:
    standings: list[CheckStanding] = []
    for old in state.standings:
        if old.check != detail.check:
            standings.append(old)
        elif detail.to is not Standing.OPEN:
            standings.append(
                CheckStanding(
                    check=old.check, standing=detail.to, seq=old.seq, outcome=detail.outcome, shares=detail.shares
                )
            )
    return replace(state, standings=tuple(standings), belief=(*state.belief, detail))


def _repairs(state: JobState, detail: Detail) -> JobState:
    match detail:
        case RepairDone():
            return replace(
                state,
                repairs=(*state.repairs, detail),
                unproved=(*state.unproved, detail.repair),
                last_repair=state.seq,
                proved=False,
                belief=(*state.belief, detail),
            )
        case RepairImpossible():
            return replace(state, belief=(*state.belief, detail))
        case ProofPassed() | ProofFailed():
            passed = isinstance(detail, ProofPassed)
            return replace(state, unproved=(), proved=passed, belief=(*state.belief, detail))
        case _:
            return state


def _procedures(state: JobState, detail: Detail) -> JobState:
    if isinstance(detail, ProcedureStarted):
        begun = ProcedurePosition(procedure=detail.procedure, steps=detail.steps)
        # Started anew while it is being worked on: back to its first step, and what was begun inside it is dropped.
        names = [p.procedure for p in state.procedures]
        depth = names.index(detail.procedure) if detail.procedure in names else len(names)
        return replace(state, procedures=(*state.procedures[:depth], begun))
    at = state.position
    if at is None:
        return state
    match detail:
        case HoldConfirmed(item=item):
            holds = at.holds if item in at.holds else (*at.holds, item)
            return replace(state, procedures=(*state.procedures[:-1], replace(at, holds=holds)))
        case StepConfirmed():
            return _stepped(state, at)
        case StepSkipped(step=step):
            return _stepped(state, replace(at, skipped=(*at.skipped, step)))
        case ProcedureStopped():
            return replace(state, procedures=state.procedures[:-1])
        case _:
            return state


def _stepped(state: JobState, at: ProcedurePosition) -> JobState:
    if at.next_step == at.steps:
        return replace(state, procedures=state.procedures[:-1], finished=(*state.finished, at.procedure))
    return replace(state, procedures=(*state.procedures[:-1], replace(at, next_step=at.next_step + 1, holds=())))


def _energy(state: JobState, detail: Detail) -> JobState:
    match detail:
        case EnergyDeclared(energy=Energy.ISOLATED, items=items):
            return replace(state, energy=Energy.ISOLATED, isolation_items=items or state.isolation_items)
        case EnergyDeclared(energy=energy):
            return replace(state, energy=energy, isolation_items=())
        case IsolationItemConfirmed(item=item) if item not in state.isolation_items:
            return replace(state, isolation_items=(*state.isolation_items, item))
        case IsolationVoided():
            return replace(state, energy=Energy.UNKNOWN, isolation_items=())
        case _:
            return state


def _shown(state: JobState, detail: Detail) -> JobState:
    match detail:
        case EvidenceSeen():
            return replace(state, evidence=(*state.evidence, detail))
        case WarningsShown(ids=ids):
            fresh = tuple(dict.fromkeys(i for i in ids if i not in state.warnings))
            return replace(state, warnings=(*state.warnings, *fresh))
        case _:
            return state
