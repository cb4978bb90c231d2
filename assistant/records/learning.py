"""Finished jobs and the author's weights -> weights that lean on both; nothing is stored, so nothing is lost by amending a job."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from assistant.domain.entries import FaultModel
from assistant.domain.job import JobState, JobStatus

EQUIVALENT_JOBS = 15.0
"""How many jobs the author's weights are worth. On 60 simulated sites whose frequencies differ from the book, 10 to 20 were
alike (after 30 jobs 1.022 to 1.023 times the optimum, 1.067 without learning); 5 and 40 were worse."""
SOMETHING_ELSE = "something_else"
"""The share that belongs to no authored cause."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CauseWeight:
    """One cause: `authored` and `learned` probabilities (each sums to one over a fault), `jobs` it was found in, in shares."""

    cause: str
    authored: float
    learned: float
    jobs: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultWeights:
    """What is learnt of one fault; causes in the author's order, something else last.

    `counted` are the jobs that the counts come from, `left_out` finished ones that say nothing of the cause, `unknown` causes
    that jobs name and the fault no longer has.
    """

    fault: str
    causes: tuple[CauseWeight, ...]
    counted: tuple[str, ...]
    left_out: tuple[str, ...]
    unknown: tuple[str, ...]


def authored_weights(fault: FaultModel) -> tuple[tuple[str, float], ...]:
    """The author's probability of each cause, something else last; they sum to one."""
    total = math.fsum(cause.weight for cause in fault.causes)
    named = [(cause.id, (1.0 - fault.something_else) * cause.weight / total) for cause in fault.causes]
    return (*named, (SOMETHING_ELSE, fault.something_else))


def counted_shares(state: JobState) -> tuple[tuple[str, float], ...]:
    """The causes that a job speaks for, in shares that sum to one; none when it speaks for none.

    A job counts when it is closed and its proof passed, or when it was handed over: then the cause that was found there counts,
    and something else when none was.
    """
    if state.job.status is not JobStatus.CLOSED:
        return ()
    if state.found and (state.proved or state.handed_over_to):
        return tuple((share.name, share.share) for share in state.found)
    return ((SOMETHING_ELSE, 1.0),) if state.handed_over_to and not state.proved else ()


def learned_weights(fault: FaultModel, states: Sequence[JobState]) -> FaultWeights:
    """Dirichlet posterior mean: (15 · authored + count) / (15 + jobs), over the jobs of that fault."""
    authored = authored_weights(fault)
    counts = {cause: 0.0 for cause, _ in authored}
    counted: list[str] = []
    left_out: list[str] = []
    unknown: set[str] = set()
    for state in states:
        if state.job.fault != fault.full_id or state.job.status is not JobStatus.CLOSED:
            continue
        shares = counted_shares(state)
        strange = {cause for cause, _ in shares if cause not in counts}
        unknown |= strange
        if not shares or strange:
            left_out.append(state.job.id)
            continue
        counted.append(state.job.id)
        for cause, share in shares:
            counts[cause] += share
    total = EQUIVALENT_JOBS + math.fsum(counts.values())
    causes = tuple(
        CauseWeight(cause=c, authored=p, learned=(EQUIVALENT_JOBS * p + counts[c]) / total, jobs=counts[c])
        for c, p in authored
    )
    return FaultWeights(
        fault=fault.full_id,
        causes=causes,
        counted=tuple(counted),
        left_out=tuple(left_out),
        unknown=tuple(sorted(unknown)),
    )
