"""Upkeep: availability, mean times with their confidence, Pareto of causes, what is due next."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from assistant.calculation.units import Amount, rounded
from assistant.calculation.worked import Worked, figure
from assistant.domain.calculation import Verdict
from assistant.errors import CalculationError

SOON = 0.9
"""Share of an interval after which a task counts as due soon: common practice, no source."""
VITAL = 80.0
"""Percent that a Pareto's vital few make up."""


def availability(mtbf: float, mttr: float) -> Worked:
    """A = MTBF / (MTBF + MTTR); h -> %."""
    share = mtbf / (mtbf + mttr)
    return Worked(
        figures=(
            figure("availability", 100 * share, "%", 4),
            figure("down in a year of 8760 h", (1 - share) * 8760, "h"),
        )
    )


def uptime(up: float, down: float) -> Worked:
    """Availability from hours up and down; h -> %."""
    return Worked(figures=(figure("availability", 100 * up / (up + down), "%", 4),))


def mtbf(hours: float, failures: float, confidence: float) -> Worked:
    """T / r with two-sided bounds from χ² (constant rate, observed for a fixed time); h, %."""
    low, high = failure_bounds(hours, int(failures), confidence)
    if high is None:
        return Worked(
            figures=(figure("mean time between failures, at least", low, "h"),),
            notes=("Without a failure only a lower bound can be given.",),
        )
    return Worked(
        figures=(
            figure("mean time between failures", hours / failures, "h"),
            figure("from", low, "h"),
            figure("to", high, "h"),
        ),
        notes=(f"Bounds of {confidence:g} %; they hold for failures that come at a steady rate.",),
    )


def failure_bounds(hours: float, failures: int, confidence: float) -> tuple[float, float | None]:
    """Two-sided bounds of T / r in h from χ², observed for a fixed time; without a failure a lower bound alone."""
    if failures == 0:
        return 2 * hours / chi_square(confidence / 100, 2), None
    tail = (1 - confidence / 100) / 2
    return 2 * hours / chi_square(1 - tail, 2 * failures + 2), 2 * hours / chi_square(tail, 2 * failures)


def mttr(times: tuple[float, ...], confidence: float) -> Worked:
    """Mean of repair times, with bounds for times that are spread exponentially; h."""
    total, count = sum(times), len(times)
    tail = (1 - confidence / 100) / 2
    low = 2 * total / chi_square(1 - tail, 2 * count)
    high = 2 * total / chi_square(tail, 2 * count)
    ordered = sorted(times)
    middle = (ordered[(count - 1) // 2] + ordered[count // 2]) / 2
    return Worked(
        figures=(
            figure("mean time to repair", total / count, "h"),
            figure("from", low, "h"),
            figure("to", high, "h"),
            figure("median", middle, "h"),
        ),
        notes=(f"Bounds of {confidence:g} %, for times that are spread exponentially.",),
    )


def chi_square(chance: float, freedom: int) -> float:
    """Quantile of χ² for an even number of degrees of freedom, by halving on its closed form."""
    return _solve(lambda x: poisson_tail(x / 2, freedom // 2), chance)


def poisson_tail(mean: float, count: int) -> float:
    """Chance that a Poisson variable of that mean is at least `count`: the distribution function of χ² at 2 × mean."""
    term, total = math.exp(-mean), 0.0
    for i in range(count):
        total += term
        term *= mean / (i + 1)
    return 1 - total


def _solve(rising: Callable[[float], float], wanted: float) -> float:
    low, high = 0.0, 1.0
    while rising(high) < wanted:
        high *= 2
    for _ in range(200):
        middle = (low + high) / 2
        low, high = (middle, high) if rising(middle) < wanted else (low, middle)
    return (low + high) / 2


def pareto(causes: Sequence[tuple[str, float]]) -> Worked:
    """Causes by count, with the share that they make up together."""
    total = sum(count for _, count in causes)
    if total <= 0:
        raise CalculationError("All counts are zero.", "Give causes with how often each came.")
    ordered = sorted(causes, key=lambda item: (-item[1], item[0]))
    figures, reached, vital = [], 0.0, list[str]()
    for name, count in ordered:
        if reached < VITAL:
            vital.append(name)
        reached += 100 * count / total
        figures.append(figure(name, 100 * count / total, "%"))
        figures.append(figure(f"together with {name}" if len(figures) > 1 else "so far", reached, "%"))
    return Worked(figures=tuple(figures), why=f"Look first at: {', '.join(vital)}.")


def next_due(interval: Amount, last: Amount, now: Amount, per_day: Amount | None) -> Worked:
    """What is left until a task is due, in hours or cycles, and in days where the use of a day is known."""
    units = {item.unit for item in (interval, last, now)}
    if len(units) > 1:
        raise CalculationError(
            f"The figures mix units: {', '.join(sorted(u or 'none' for u in units))}.",
            "Give all in hours or all in cycles.",
        )
    if now.value < last.value:
        raise CalculationError(
            "The counter stands below its last reading.", "Was it reset? Give both since the same zero."
        )
    if interval.value <= 0:
        raise CalculationError("An interval is above zero.", "Give the interval of the task.")
    left = last.value + interval.value - now.value
    used = (now.value - last.value) / interval.value
    figures = [figure("left", left, interval.unit, 4), figure("due at", last.value + interval.value, interval.unit, 6)]
    if per_day is not None and per_day.value > 0:
        figures.append(figure("days until it is due", max(0.0, left) / per_day.value, "d"))
    if used > 1:
        return Worked(
            figures=tuple(figures), verdict=Verdict.STOP, why=f"It is overdue by {rounded(-left, 4)} {interval.unit}."
        )
    verdict = Verdict.ACT if used >= SOON else Verdict.GOOD
    why = "It is due soon." if verdict is Verdict.ACT else "It is not due yet."
    return Worked(figures=tuple(figures), verdict=verdict, why=why)
