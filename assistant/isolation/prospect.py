"""A session's place -> how long the job will take: mean and interval over all branches of the policy."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from assistant.domain.fault_log import DoCheck, DoRepair, Event, HandOver
from assistant.domain.terms import Energy
from assistant.isolation.branching import branch
from assistant.isolation.policy import Isolator, Place
from assistant.isolation.progress import progress

LEAST_CHANCE = 5e-4
"""A branch less likely than this is not followed: it counts with the minutes that the policy expects of it."""
LOW, HIGH = 0.1, 0.9
"""Ends of the interval."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Prospect:
    """Minutes to the end of the job: mean, and the quantiles LOW and HIGH; chance of handing over; chance of each action."""

    minutes: float
    low_minutes: float
    high_minutes: float
    hand_over: float
    wanted: Mapping[str, float] = field(default_factory=dict)


def prospect(isolator: Isolator, log: Iterable[Event], energy: Energy, least_chance: float = LEAST_CHANCE) -> Prospect:
    """Exact but for the branches that are not followed, as the model has it: one fault, no answer dropped after a surprise.

    Raises:
        IsolationError: the log does not fit the model.

    """
    ends: list[tuple[float, float]] = []
    wanted: dict[str, float] = {}
    handed = 0.0
    layer = [(1.0, 0.0, Place(at=progress(isolator.model, log), energy=energy))]
    while layer:
        decisions = isolator.decide_many([place for _, _, place in layer])
        then: list[tuple[float, float, Place]] = []
        for (chance, spent, place), decision in zip(layer, decisions, strict=True):
            if chance < least_chance:
                ends.append((spent + decision.minutes_left, chance))
                continue
            work = decision.action
            name = work.check if isinstance(work, DoCheck) else work.repair if isinstance(work, DoRepair) else ""
            if name:
                wanted[name] = wanted.get(name, 0.0) + chance
            handed += chance if isinstance(work, HandOver) else 0.0
            found = branch(isolator.model, place, work, restart=False)
            then += [(chance * p, spent + found.minutes, place) for p, place in found.places]
            ended = chance * (1.0 - sum(p for p, _ in found.places))
            if ended > 0.0:
                ends.append((spent + found.minutes, ended))
        layer = then
    return Prospect(
        minutes=sum(minutes * chance for minutes, chance in ends) / sum(chance for _, chance in ends),
        low_minutes=quantile(ends, LOW),
        high_minutes=quantile(ends, HIGH),
        hand_over=handed,
        wanted=wanted,
    )


def quantile(ends: list[tuple[float, float]], share: float) -> float:
    """Least minutes that `share` of the chance does not exceed; `ends` are (minutes, chance)."""
    total = sum(chance for _, chance in ends)
    reached = 0.0
    for minutes, chance in sorted(ends):
        reached += chance
        if reached >= share * total - 1e-12:
            return minutes
    return max(minutes for minutes, _ in ends)
