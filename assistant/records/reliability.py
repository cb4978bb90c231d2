"""Jobs of the record -> how often a machine failed, how long repairs took, what they share of its time, and which causes came most.

The bounds are those of the calculators: χ² for a steady rate over a fixed time, and for repair times spread exponentially.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from assistant.calculation.upkeep import chi_square
from assistant.domain.job import JobState, JobStatus
from assistant.errors import BadQuestion

CONFIDENCE = 0.90
FEW = 5
"""Jobs below which the bounds say more than the mean."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bounds:
    """A mean in hours with its two-sided bounds."""

    mean_h: float
    low_h: float
    high_h: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CauseCount:
    """A cause, in how many jobs it was found (shares add up), its share and the share so far in percent."""

    fault: str
    cause: str
    jobs: float
    share: float
    together: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Reliability:
    """The figures of one machine, or of all.

    `availability` is a share of 1, None without a repair time. `unnamed` counts closed jobs that name no cause, `open_jobs`
    those that are not closed and count nowhere.
    """

    machine: str | None
    hours: float
    measured: bool
    failures: int
    open_jobs: int
    unnamed: int
    between: Bounds
    to_repair: Bounds | None
    availability: float | None
    causes: tuple[CauseCount, ...]


def reliability(states: Sequence[JobState], machine: str | None, now: str, hours: float | None = None) -> Reliability:
    """The figures at the time `now` (ISO 8601).

    `hours`: of operation over the time of the record; without it the calendar hours since the first job was opened.

    Raises:
        BadQuestion: no job is closed, or the hours are not above zero or shorter than the repairs.

    """
    own = [s for s in states if machine is None or s.job.machine == machine]
    closed = [s for s in own if s.job.status is JobStatus.CLOSED]
    if not closed:
        raise BadQuestion(
            "No job of that machine is closed yet.", "Close a job (`handlamp jobs close`), then ask again."
        )
    repair_h = [s.minutes / 60 for s in closed if s.minutes > 0]
    begun = min(datetime.fromisoformat(s.job.opened_at) for s in closed)
    observed = (datetime.fromisoformat(now) - begun).total_seconds() / 3600 if hours is None else hours
    if not observed > sum(repair_h):
        raise BadQuestion(
            f"{observed:.1f} h are no longer than the repairs of these jobs, {sum(repair_h):.1f} h.",
            "Give the hours of operation with --hours.",
        )
    between = _between(observed, len(closed))
    to_repair = _to_repair(repair_h)
    return Reliability(
        machine=machine,
        hours=observed,
        measured=hours is not None,
        failures=len(closed),
        open_jobs=len(own) - len(closed),
        unnamed=sum(1 for s in closed if not s.found),
        between=between,
        to_repair=to_repair,
        availability=(observed - sum(repair_h)) / observed if repair_h else None,
        causes=_causes(closed),
    )


def _between(hours: float, failures: int) -> Bounds:
    tail = (1 - CONFIDENCE) / 2
    return Bounds(
        mean_h=hours / failures,
        low_h=2 * hours / chi_square(1 - tail, 2 * failures + 2),
        high_h=2 * hours / chi_square(tail, 2 * failures),
    )


def _to_repair(times_h: Sequence[float]) -> Bounds | None:
    if not times_h:
        return None
    tail, total, count = (1 - CONFIDENCE) / 2, sum(times_h), len(times_h)
    return Bounds(
        mean_h=total / count,
        low_h=2 * total / chi_square(1 - tail, 2 * count),
        high_h=2 * total / chi_square(tail, 2 * count),
    )


def _causes(closed: Sequence[JobState]) -> tuple[CauseCount, ...]:
    counts: dict[tuple[str, str], float] = {}
    for state in closed:
        for share in state.found:
            key = (state.job.fault, share.name)
            counts[key] = counts.get(key, 0.0) + share.share
    whole, reached, found = sum(counts.values()), 0.0, []
    for (fault, cause), jobs in sorted(counts.items(), key=lambda item: (-item[1], item[0])):
        reached += jobs
        found.append(
            CauseCount(fault=fault, cause=cause, jobs=jobs, share=100 * jobs / whole, together=100 * reached / whole)
        )
    return tuple(found)
