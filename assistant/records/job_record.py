"""A job with its log and seal -> the head of every export: what a reader wants to know before the log."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from assistant.domain.job import JobEvent, JobState, JobStatus
from assistant.domain.job_terms import Standing
from assistant.records.ledger import Ledger
from assistant.records.replay import replayed
from assistant.records.wording import figure, shares_in_words


@dataclass(frozen=True, slots=True, kw_only=True)
class JobRecord:
    """One job whole; `seal` is the sha256 of its last event, by which a paper copy is compared with the record."""

    state: JobState
    events: tuple[JobEvent, ...]
    seal: str


def record_of(ledger: Ledger, job: str) -> JobRecord:
    """The job as it stands.

    Raises:
        UnknownName: no such job.
        RecordError: it cannot be read.

    """
    events = ledger.events(job)
    # The seal of the last event that was read: another session may have written one since.
    return JobRecord(state=replayed(events), events=events, seal=ledger.seals(job)[len(events) - 1])


def finding(state: JobState) -> str:
    """What was found, and whether it was proved."""
    if state.job.status is not JobStatus.CLOSED:
        return ""
    found = shares_in_words(state.found)
    if len(state.found) > 1:
        found = f"one of: {found}"
    proof = "proved" if state.proved else "not proved"
    handed = f", handed over to {state.handed_over_to}" if state.handed_over_to else ""
    return f"{found or 'no cause found'} ({proof}{handed})"


def place_in_work(state: JobState) -> str:
    """Where the work stands, innermost procedure last."""
    if state.job.status is JobStatus.CLOSED:
        return ""
    steps = [f"{at.procedure}, step {at.next_step} of {at.steps}" for at in state.procedures]
    if steps:
        return "; then ".join(reversed(steps))
    if state.unproved:
        return f"unproved: {', '.join(state.unproved)}"
    if not state.job.fault:
        return "between steps"
    said = sum(standing.standing is not Standing.OPEN for standing in state.standings)
    return (
        f"looking for the cause, {said} {'check' if said == 1 else 'checks'} behind"
        if said
        else "looking for the cause"
    )


def parts_used(state: JobState) -> str:
    """`2 × drumlin/part/fuse`, by part."""
    counts: Counter[str] = Counter()
    for repair in state.repairs:
        for used in repair.parts:
            counts[used.part] += used.quantity
    return ", ".join(f"{count} × {part}" for part, count in sorted(counts.items()))


def summary(record: JobRecord) -> tuple[tuple[str, str], ...]:
    """Label and text of everything that has something to say, in a fixed order."""
    state = record.state
    job = state.job
    rows = (
        ("Machine", job.machine),
        ("Complaint", job.complaint),
        ("Worked on as", job.fault),
        ("Status", str(job.status)),
        ("Opened", f"{job.opened_at} by {job.who}"),
        ("Closed", job.closed_at),
        ("Found", finding(state)),
        ("Where the work stands", place_in_work(state)),
        ("Energy declared", "" if job.status is JobStatus.CLOSED else str(state.energy)),
        ("Machine left", state.left.machine_state if state.left else ""),
        ("Minutes at the machine", figure(round(state.minutes, 1))),
        ("Parts used", parts_used(state)),
        ("Warnings shown", ", ".join(state.warnings)),
        ("Amended", f"{len(state.amendments)} ×, last at {state.last_at}" if state.amendments else ""),
        ("Seal", record.seal),
    )
    return tuple((label, text) for label, text in rows if text)


def must_not(state: JobState) -> tuple[str, ...]:
    """What holds for a machine while it is left: what must not be done, what is not finished, what is not proved."""
    return state.left.must_not if state.left else ()
