"""A job's state and a new event -> nothing, or the reason why the job cannot take it."""

from __future__ import annotations

import math

from assistant.domain.job import JobState, JobStatus
from assistant.domain.job_events import (
    Amended,
    AnswerRevised,
    Closed,
    Detail,
    EvidenceSeen,
    HoldConfirmed,
    NoteTaken,
    Opened,
    ProcedureStarted,
    ProcedureStopped,
    ReadingTaken,
    RepairDone,
    Resumed,
    StepConfirmed,
    StepSkipped,
    ValueAsked,
)
from assistant.domain.job_terms import Share, Standing
from assistant.errors import EventRefused

SHARE_TOLERANCE = 1e-6
"""How far shares may be from one: thirds written with six digits pass."""


def admit(state: JobState | None, detail: Detail) -> None:
    """Pass an event that the job can take.

    Raises:
        EventRefused: what stands against it, and what to do instead.

    """
    if state is None:
        if not isinstance(detail, Opened):
            raise EventRefused(f"`{detail.kind}` is no beginning of a job.", "A job begins by being opened.")
        return
    if isinstance(detail, Opened):
        raise EventRefused(f"Job {state.job.id} is open already.", "Open another one.")
    _life(state, detail)
    _figures(detail)
    if isinstance(detail, EvidenceSeen):
        _evidence(detail)
    _procedure(state, detail)
    if isinstance(detail, AnswerRevised):
        _revision(state, detail)


def _life(state: JobState, detail: Detail) -> None:
    job = state.job
    if job.status is JobStatus.CLOSED and not isinstance(detail, Amended):
        raise EventRefused(
            f"Job {job.id} was closed at {job.closed_at}; `{detail.kind}` is not added to it.",
            "A closed job is amended (`handlamp jobs amend`), or a new one is opened.",
        )
    if job.status is not JobStatus.CLOSED and isinstance(detail, Amended):
        raise EventRefused(
            f"Job {job.id} is {job.status}; there is nothing to amend yet.", "Take a note or revise the answer."
        )
    if job.status is JobStatus.LEFT_OPEN and not isinstance(detail, Resumed | Closed | NoteTaken):
        raise EventRefused(
            f"Job {job.id} was left; `{detail.kind}` needs somebody at the machine.", "Resume the job first."
        )


def _figures(detail: Detail) -> None:
    minutes = getattr(detail, "minutes", 0.0)
    if not math.isfinite(minutes) or minutes < 0:
        raise EventRefused(f"`{minutes}` are no minutes.", "Minutes are a finite figure from 0.")
    if isinstance(detail, ReadingTaken | ValueAsked) and detail.value is not None and not math.isfinite(detail.value):
        raise EventRefused(f"`{detail.value}` is no reading.", "Give a finite figure, or say that none was had.")
    if isinstance(detail, RepairDone) and any(used.quantity < 1 for used in detail.parts):
        raise EventRefused(f"`{detail.repair}` used less than one of a part.", "Count the parts from 1.")
    if isinstance(detail, ReadingTaken | AnswerRevised | EvidenceSeen) and detail.shares:
        _shares(detail.shares, "outcomes")
    if isinstance(detail, Closed | Amended) and detail.found:
        _shares(detail.found, "causes")


def _evidence(detail: EvidenceSeen) -> None:
    if bool(detail.check) != bool(detail.outcome or detail.shares) or (detail.check and not detail.code):
        raise EventRefused(
            f"What was seen answers `{detail.check}` with `{detail.outcome}`, code `{detail.code}`.",
            "A code that bears on the fault carries the check and its outcome, any other neither.",
        )


def _shares(shares: tuple[Share, ...], what: str) -> None:
    total = math.fsum(share.share for share in shares)
    if not all(0.0 <= share.share <= 1.0 for share in shares) or abs(total - 1.0) > SHARE_TOLERANCE:
        raise EventRefused(f"The shares of the {what} sum to {total:g}.", "They sum to one.")
    if len({share.name for share in shares}) != len(shares):
        raise EventRefused(f"One of the {what} is named twice.", "Name each once, with its whole share.")


def _procedure(state: JobState, detail: Detail) -> None:
    if isinstance(detail, ProcedureStarted):
        if detail.steps < 1:
            raise EventRefused(f"`{detail.procedure}` has no steps.", "Start a procedure that has some.")
        return
    if not isinstance(detail, StepConfirmed | HoldConfirmed | StepSkipped | ProcedureStopped):
        return
    at = state.position
    if at is None or at.procedure != detail.procedure:
        where = at.step_id if at else "in no procedure"
        raise EventRefused(f"`{detail.procedure}` is not being worked on; the job is {where}.", "Start it first.")
    if not isinstance(detail, ProcedureStopped) and detail.step != at.next_step:
        raise EventRefused(
            f"Step {detail.step} of `{at.procedure}` is not due; step {at.next_step} is.", f"Go on at {at.step_id}."
        )


def _revision(state: JobState, detail: AnswerRevised) -> None:
    if all(standing.check != detail.check for standing in state.standings):
        raise EventRefused(f"Nothing was said of `{detail.check}` that could be revised.", "Answer the check.")
    wrong = (detail.to is Standing.ANSWERED) != bool(detail.outcome) or (
        (detail.to is Standing.NEAR_LIMIT) != bool(detail.shares)
    )
    if wrong:
        raise EventRefused(
            f"`{detail.check}` is revised to `{detail.to}` with what does not belong to it.",
            "`answered` carries an outcome, `near-limit` carries shares, the others carry neither.",
        )
