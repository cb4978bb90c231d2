"""Closed jobs of one machine -> its reliability figures."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from assistant.calculation.reliability import (
    FEW,
    LEAST_REPAIRS,
    Bounded,
    CauseShare,
    cause_shares,
    ready,
    time_between,
    time_to_repair,
)
from assistant.domain.job import JobState, JobStatus
from assistant.records.moments import minutes_between, moment

NO_CAUSE = "no cause found"


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """What the closed jobs of a machine say; hours, and percent for `availability`."""

    machine: str
    jobs: int
    failures: int
    hours_up: float
    confidence: float
    availability: Bounded
    mtbf: Bounded
    mttr: Bounded
    causes: tuple[CauseShare, ...]
    notes: tuple[str, ...]


def figures_of(states: Iterable[JobState], confidence: float, run_hours: float | None = None) -> tuple[Figures, ...]:
    """The figures of each machine that has a closed job, by name."""
    closed: dict[str, list[JobState]] = {}
    for state in states:
        if state.job.status is JobStatus.CLOSED:
            closed.setdefault(state.job.machine, []).append(state)
    return tuple(_figures(machine, closed[machine], confidence, run_hours) for machine in sorted(closed))


def _figures(machine: str, states: Sequence[JobState], confidence: float, run_hours: float | None) -> Figures:
    spans = sorted(((s.job.opened_at, s.job.closed_at) for s in states), key=lambda span: moment(span[0]))
    repairs = [minutes_between(*span) / 60 for span in spans]
    # A watch that begins at the first failure has not waited for it, so that one is not counted.
    failures = len(spans) if run_hours is not None else len(spans) - 1
    up = run_hours if run_hours is not None else _hours_up(spans)
    mean, repair = time_between(up, failures, confidence), time_to_repair(repairs, confidence)
    # Each at half the risk, so that both hold together with the confidence asked for (Bonferroni).
    both = 100 - (100 - confidence) / 2
    bounds = ready(time_between(up, failures, both), time_to_repair(repairs, both))
    found = [
        (f"{s.job.fault}: {share.name}" if s.job.fault else share.name, share.share)
        for s in states
        for share in s.found
    ]
    found += [(NO_CAUSE, 1.0) for s in states if not s.found]
    return Figures(
        machine=machine,
        jobs=len(states),
        failures=failures,
        hours_up=up,
        confidence=confidence,
        availability=bounds,
        mtbf=mean,
        mttr=repair,
        causes=cause_shares(found),
        notes=tuple(_notes(len(states), failures, [hours for hours in repairs if hours > 0], run_hours is None)),
    )


def _hours_up(spans: Sequence[tuple[str, str]]) -> float:
    """From the first opening to the last closing, without the hours in which some job was open."""
    first = reached = moment(spans[0][0])
    down = 0.0
    for opened, closed in ((moment(a), moment(b)) for a, b in spans):
        down += max(0.0, (closed - max(opened, reached)).total_seconds())
        reached = max(reached, closed)
    return math.fsum(((reached - first).total_seconds(), -down)) / 3600


def _notes(jobs: int, failures: int, repairs: Sequence[float], calendar: bool) -> Iterable[str]:
    if failures < 1:
        yield "Too few closed jobs for a mean time between failures: two are needed, or --hours."
    if len(repairs) < LEAST_REPAIRS:
        yield f"Too few closed jobs for bounds of the mean time to repair: {LEAST_REPAIRS} are needed."
    if 1 <= jobs < FEW:
        yield f"Only {jobs} closed job{'s' if jobs > 1 else ''}: too few to plan by."
    if len(repairs) < jobs:
        yield "A job that was closed at the moment it was opened gives no repair time."
    if calendar:
        yield "Calendar hours from the first job to the end of the last; the first failure begins the watch, uncounted."
    yield "Every job counts as one failure; repair time runs from opening to closing, with waiting."
