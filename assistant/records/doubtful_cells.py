"""Finished jobs and an authored likelihood table -> the cells that the jobs speak against, for the author to look at.

The cells themselves are never learnt: a cell sees too few jobs, and one wrong cell costs more than a wrong weight.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from assistant.domain.entries import FaultModel
from assistant.domain.job import JobState
from assistant.domain.job_terms import Standing
from assistant.domain.likelihood import column
from assistant.records.learning import counted_shares

FEWEST_JOBS = 5
"""Below this no cell is judged: one odd day would do."""
LEVEL = 0.05
"""Chance of one false report or more in a fault whose cells are all right (Bonferroni over its judged cells)."""
_SLACK = 1.0 + 1e-7
"""Outcomes as unlikely as the observed one count in spite of rounding; scipy's exact test uses the same."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DoubtfulCell:
    """One cell: the outcome came `seen` times in `jobs` with that cause, where `stated` was authored; `p` of the exact test."""

    fault: str
    check: str
    outcome: str
    cause: str
    stated: float
    seen: int
    jobs: int
    p: float


def binomial_p(seen: int, tried: int, chance: float) -> float:
    """Exact two-sided binomial test: the chance of a count at most as likely as the one seen.

    Clopper and Pearson's tail in the form of the minimum likelihood ordering; from memory.
    """
    masses = [math.comb(tried, k) * chance**k * (1.0 - chance) ** (tried - k) for k in range(tried + 1)]
    return min(1.0, math.fsum(mass for mass in masses if mass <= masses[seen] * _SLACK))


def doubtful_cells(fault: FaultModel, states: Sequence[JobState]) -> tuple[DoubtfulCell, ...]:
    """Cells whose jobs are too unlikely under what is authored, least likely first, then by check, outcome and cause."""
    cells = [cell for cell in _cells(fault, states) if cell.jobs >= FEWEST_JOBS]
    bar = LEVEL / max(1, len(cells))
    return tuple(sorted((c for c in cells if c.p < bar), key=lambda c: (c.p, c.check, c.outcome, c.cause)))


def _cells(fault: FaultModel, states: Sequence[JobState]) -> list[DoubtfulCell]:
    seen = _observed(fault, states)
    cells = []
    for check in fault.checks:
        labels = [outcome.says[0] for outcome in check.outcomes]
        for cause in fault.causes:
            told = [label for found, name, label in seen if (found, name) == (cause.id, check.id) and label in labels]
            for label, stated in zip(labels, column(check, cause.id) if labels else (), strict=True):
                count = told.count(label)
                cells.append(
                    DoubtfulCell(
                        fault=fault.full_id,
                        check=check.id,
                        outcome=label,
                        cause=cause.id,
                        stated=stated,
                        seen=count,
                        jobs=len(told),
                        p=binomial_p(count, len(told), stated),
                    )
                )
    return cells


def _observed(fault: FaultModel, states: Sequence[JobState]) -> list[tuple[str, str, str]]:
    """(cause, check, outcome) of jobs with one sure cause, answered while the fault was still there."""
    found = []
    for state in states:
        shares = counted_shares(state)
        if state.job.fault != fault.full_id or len(shares) != 1:
            continue
        for standing in state.standings:
            before = not state.last_repair or standing.seq < state.last_repair
            if standing.standing is Standing.ANSWERED and before:
                found.append((shares[0][0], standing.check, standing.outcome))
    return found
