"""A figure read from a meter -> the outcome that it falls into, or a mixture of two where the meter could mean either."""

from __future__ import annotations

import math
from collections.abc import Mapping

from assistant.domain.entries import Check, CheckOutcome
from assistant.domain.fault_log import Answered, ReadingNear
from assistant.domain.terms import Value
from assistant.errors import IsolationError

Span = tuple[float, float]


def read(check: Check, values: Mapping[str, Value], figure: float, tolerance: float) -> Answered | ReadingNear | None:
    """What a reading says; None when it is outside of the plausible span and should be asked again, not used.

    `values` are those that the limits of the outcomes name; `tolerance` is the meter's, in the reading's unit: the true value
    is taken to lie anywhere within it, each outcome gets its share of that span.

    Raises:
        IsolationError: the check asks for no reading, or the reading fits no outcome.

    """
    if check.reading is None:
        raise IsolationError(f"`{check.id}` asks for no reading", "answer with one of its outcomes")
    if not check.reading.lowest <= figure <= check.reading.highest:
        return None
    shares = [(outcome.says[0], _share(outcome, values, figure, tolerance)) for outcome in check.outcomes]
    rest = 1.0 - sum(share for _, share in shares)
    open_end = [i for i, outcome in enumerate(check.outcomes) if outcome.normal and _limits(outcome, values) is None]
    if open_end and rest > 1e-9:
        shares[open_end[0]] = (shares[open_end[0]][0], rest)
    said = tuple((label, share) for label, share in shares if share > 1e-9)
    if not said:
        raise IsolationError(
            f"{figure:g} {check.reading.unit} fits no outcome of `{check.id}`", "answer with one of them"
        )
    return Answered(check=check.id, outcome=said[0][0]) if len(said) == 1 else ReadingNear(check=check.id, shares=said)


def _share(outcome: CheckOutcome, values: Mapping[str, Value], figure: float, tolerance: float) -> float:
    """Share of figure +- tolerance that lies within an outcome's limits."""
    limits = _limits(outcome, values)
    if limits is None:
        return 0.0
    low, high = limits
    if tolerance <= 0:
        strict = (outcome.below and figure == high) or (outcome.above and figure == low)
        return float(low <= figure <= high and not strict)
    return max(0.0, min(high, figure + tolerance) - max(low, figure - tolerance)) / (2 * tolerance)


def _limits(outcome: CheckOutcome, values: Mapping[str, Value]) -> Span | None:
    name = outcome.within or outcome.below or outcome.above
    if not name:
        return None
    if name not in values:
        raise IsolationError(f"no value `{name}` for the limits of `{outcome.says[0]}`", "write it under values:")
    low, high = span(values[name])
    if outcome.within:
        return low, high
    if outcome.below:
        return -math.inf, low if math.isfinite(low) else high
    return high if math.isfinite(high) else low, math.inf


def span(value: Value) -> Span:
    """Lower and upper limit of an authored value; a value without tolerance is both, an end not written is infinite."""
    if value.min is not None or value.max is not None:
        return (
            -math.inf if value.min is None else float(value.min),
            math.inf if value.max is None else float(value.max),
        )
    if value.value is None:
        return -math.inf, math.inf
    middle = float(value.value)
    half = 0.0
    if isinstance(value.tolerance, int | float):
        half = float(value.tolerance)
    elif isinstance(value.tolerance, str) and value.tolerance.rstrip().endswith("%"):
        half = abs(middle) * float(value.tolerance.rstrip().rstrip("%")) / 100.0
    return middle - half, middle + half
