"""Closed jobs -> cause weights of a site, and cells of the likelihood tables that the author should look at.

Weights are a Dirichlet posterior: 15 x the authored share plus the counts. Fifteen was flat between 10 and 20 for ten to a
hundred jobs; thirty jobs recover two thirds of what wrong weights cost. Likelihoods are never learned: too few data.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from assistant.domain.fault_log import Event
from assistant.domain.isolation import IsolationModel
from assistant.isolation.progress import posterior, progress, survival

EQUIVALENT_JOBS = 15.0
"""How many jobs the authored weights count for."""
UNLIKELY = 0.01
"""A cell whose observed counts have less chance than this is reported."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ClosedJob:
    """What a closed job says of its cause: shares summing to one; `log` what was answered on the way to it."""

    shares: tuple[tuple[str, float], ...]
    log: tuple[Event, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Weight:
    """Authored and learned share of a cause, and the jobs counted for it (fractions after repairs in one block)."""

    cause: str
    authored: float
    learned: float
    jobs: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StrangeCell:
    """An outcome seen `seen` times in `jobs` jobs of a cause although the table says `stated`."""

    check: str
    outcome: str
    cause: str
    stated: float
    seen: int
    jobs: int
    chance: float


def learned_weights(
    model: IsolationModel, jobs: Iterable[ClosedJob], equivalent: float = EQUIVALENT_JOBS
) -> tuple[Weight, ...]:
    """Weights of all causes, something else last; `model` carries the authored prior. Derived anew from the jobs each time."""
    counts = dict.fromkeys(model.causes, 0.0)
    for job in jobs:
        for cause, share in job.shares:
            counts[cause if cause in counts else model.causes[-1]] += share
    alpha = {cause: equivalent * p + counts[cause] for cause, p in zip(model.causes, model.prior, strict=True)}
    total = math.fsum(alpha.values())
    return tuple(
        Weight(cause=cause, authored=p, learned=alpha[cause] / total, jobs=counts[cause])
        for cause, p in zip(model.causes, model.prior, strict=True)
    )


def credit(model: IsolationModel, log: Sequence[Event]) -> ClosedJob:
    """Who gets the credit for a passed proof: the causes that the unproved repairs cure, by posterior shares.

    Without a repair that cures anything (a hand-over, or the fault went away) the job counts for something else.

    Raises:
        IsolationError: the log does not fit the model.

    """
    at = progress(model, log)
    cured = posterior(model, at) * (1.0 - survival(model, at.unproved))
    total = float(cured.sum())
    if not at.passes or total <= 0.0:
        return ClosedJob(shares=((model.causes[-1], 1.0),), log=tuple(log))
    shares = [(cause, float(c) / total) for cause, c in zip(model.causes, cured, strict=True) if c > 0.0]
    return ClosedJob(shares=tuple(shares), log=tuple(log))


def strange_cells(model: IsolationModel, jobs: Iterable[ClosedJob]) -> tuple[StrangeCell, ...]:
    """Cells whose counts in jobs of one sure cause are hard to believe (exact two-sided binomial test), strangest first."""
    seen: dict[tuple[int, str], list[int]] = {}
    for job in jobs:
        cause, share = max(job.shares, key=lambda item: item[1])
        if share < 0.95 or cause not in model.causes:
            continue
        for index, answer in enumerate(progress(model, job.log).answers):
            if answer is not None and max(answer) == 1.0:
                seen.setdefault((index, cause), [0] * len(answer))[answer.index(1.0)] += 1
    found = []
    for (index, cause), counts in seen.items():
        check, column = model.checks[index], model.causes.index(cause)
        for outcome, count in enumerate(counts):
            stated = check.likelihood[outcome][column]
            chance = binomial_chance(count, sum(counts), stated)
            if chance < UNLIKELY:
                found.append(
                    StrangeCell(
                        check=check.id,
                        outcome=check.outcomes[outcome],
                        cause=cause,
                        stated=stated,
                        seen=count,
                        jobs=sum(counts),
                        chance=chance,
                    )
                )
    return tuple(sorted(found, key=lambda cell: (cell.chance, cell.check, cell.outcome, cell.cause)))


def binomial_chance(seen: int, of: int, chance: float) -> float:
    """Two-sided exact p: all counts that are no likelier than the one seen."""
    chances = [math.comb(of, k) * chance**k * (1.0 - chance) ** (of - k) for k in range(of + 1)]
    return min(1.0, math.fsum(p for p in chances if p <= chances[seen] * (1.0 + 1e-9)))
