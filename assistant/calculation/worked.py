"""What a calculator's function gives back, before it is joined with its declaration."""

from __future__ import annotations

from dataclasses import dataclass

from assistant.calculation.units import rounded
from assistant.domain.calculation import Figure, Source, Verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class Worked:
    """Figures (the answer first), verdict with its reason, the limit held against, and what else is to be told."""

    figures: tuple[Figure, ...]
    verdict: Verdict = Verdict.NO_LIMIT
    why: str = ""
    limit: str = ""
    notes: tuple[str, ...] = ()
    sources: tuple[Source, ...] = ()


def figure(name: str, value: float, unit: str, digits: int = 3) -> Figure:
    """A computed figure with that many significant digits."""
    text = rounded(value, digits)
    return Figure(name=name, value=value, unit=unit, text=f"{text} {unit}".strip())


def judged(value: float, good: float, stop: float) -> Verdict:
    """Good up to the first bound, stop above the second, act between them."""
    if value <= good:
        return Verdict.GOOD
    return Verdict.ACT if value <= stop else Verdict.STOP
