"""What a list of stops says of a machine: mean times with their bounds, availability, causes by share."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from assistant.calculation.upkeep import failure_bounds

FEW = 5
"""Stops below which bounds are called wide: common practice, no source."""
LEAST_REPAIRS = 3
"""Repair times below which a spread says nothing: common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bounded:
    """A figure with its two-sided bounds; None where the stops are too few to give it."""

    value: float | None = None
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CauseShare:
    """A cause with how many jobs it stands for, its percent and the percent together with all before it."""

    cause: str
    jobs: float
    percent: float
    together: float


def time_between(hours: float, failures: int, confidence: float) -> Bounded:
    """T / r with bounds from χ² for a watch that ends at a fixed time: NIST/SEMATECH e-Handbook 8.4.5.1."""
    if hours <= 0:
        return Bounded()
    low, high = failure_bounds(hours, failures, confidence)
    return Bounded(value=hours / failures if failures else None, low=low, high=high)


def time_to_repair(hours: Sequence[float], confidence: float) -> Bounded:
    """The mean, with bounds for log-normal times: Cox's with Student's t (Olsson, J. Statistics Education 13(1), 2005)."""
    known = [value for value in hours if value > 0]
    if not known:
        return Bounded()
    mean = math.fsum(known) / len(known)
    if len(known) < LEAST_REPAIRS:
        return Bounded(value=mean)
    logs = [math.log(value) for value in known]
    middle = math.fsum(logs) / len(logs)
    spread = math.fsum((value - middle) ** 2 for value in logs) / (len(logs) - 1)
    low, high = log_normal_bounds(middle, spread, len(logs), confidence)
    return Bounded(value=mean, low=low, high=high)


def log_normal_bounds(middle: float, spread: float, count: int, confidence: float) -> tuple[float, float]:
    """Bounds of the mean from the mean and the variance of the logarithms."""
    error = math.sqrt(spread / count + spread**2 / (2 * (count - 1)))
    reach = student(1 - (1 - confidence / 100) / 2, count - 1) * error
    return math.exp(middle + spread / 2 - reach), math.exp(middle + spread / 2 + reach)


def student(chance: float, freedom: int) -> float:
    """Quantile of Student's t above its middle, by halving on the finite sums of Abramowitz and Stegun 26.7.3 and 26.7.4."""
    low, high = 0.0, math.pi / 2
    for _ in range(100):
        angle = (low + high) / 2
        low, high = (angle, high) if _between(angle, freedom) < 2 * chance - 1 else (low, angle)
    return math.sqrt(freedom) * math.tan((low + high) / 2)


def _between(angle: float, freedom: int) -> float:
    """Chance that |t| stays below √freedom · tan(angle)."""
    cosine = math.cos(angle)
    odd = freedom % 2
    term, total = (cosine if odd else 1.0), 0.0
    for step in range(1 + odd, freedom, 2):
        total += term
        term *= cosine**2 * step / (step + 1)
    if odd:
        return 2 / math.pi * (angle + math.sin(angle) * total)
    return math.sin(angle) * total


def ready(between: Bounded, repair: Bounded) -> Bounded:
    """MTBF / (MTBF + MTTR) in percent; its bounds pair the worst of one with the worst of the other."""
    return Bounded(
        value=_share(between.value, repair.value),
        low=_share(between.low, repair.high),
        high=_share(between.high, repair.low),
    )


def _share(up: float | None, down: float | None) -> float | None:
    return None if up is None or down is None else 100 * up / (up + down)


def cause_shares(found: Iterable[tuple[str, float]]) -> tuple[CauseShare, ...]:
    """Causes by how many jobs each stands for, the most frequent first."""
    jobs: dict[str, float] = {}
    for cause, share in found:
        jobs[cause] = jobs.get(cause, 0.0) + share
    total, reached, rows = math.fsum(jobs.values()), 0.0, list[CauseShare]()
    for cause, count in sorted(jobs.items(), key=lambda item: (-round(item[1], 9), item[0])):
        reached += count
        rows.append(CauseShare(cause=cause, jobs=count, percent=100 * count / total, together=100 * reached / total))
    return tuple(rows)
