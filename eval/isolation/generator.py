"""A seed -> an invented fault model, from a few causes to sixty; the same seed gives the same model.

Families: a chain (checks see all causes upstream of a cut), flat (random subsets), a tree (subsystems of a random binary
partition), mixed. Weights, minutes and states are drawn so as to look like a machine's; none is field data.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from assistant.domain.isolation import (
    LADDER,
    SOMETHING_ELSE,
    EnergyLadder,
    IsolationCheck,
    IsolationModel,
    IsolationRepair,
)
from assistant.domain.terms import Energy

FAMILIES = ("chain", "flat", "tree", "mixed")
LOCAL_SHARE = {"chain": 1 / 3, "mixed": 1 / 3, "tree": 1 / 2, "flat": 2 / 3}
STATE_SETS: tuple[tuple[Energy, ...], ...] = (
    (Energy.RUNNING,),
    (Energy.RUNNING, Energy.STOPPED),
    (Energy.STOPPED,),
    (Energy.STOPPED, Energy.ISOLATED),
    (Energy.ISOLATED,),
    LADDER,
)
LOCAL_STATES = (0.08, 0.10, 0.27, 0.15, 0.35, 0.05)
GROUP_STATES = (0.25, 0.20, 0.25, 0.10, 0.15, 0.05)
REPAIR_STATES: tuple[tuple[Energy, ...], ...] = (
    (Energy.RUNNING,),
    (Energy.STOPPED,),
    (Energy.STOPPED, Energy.ISOLATED),
    (Energy.ISOLATED,),
)
QUALITY = ((0.98, 0.02), (0.85, 0.10), (0.85, 0.50))
"""Chance of the abnormal outcome inside and outside of a check's group: crisp, good, weak."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Size:
    """How many of each; `crisp` models have always and never only, `large` ones a dearer hand-over."""

    causes: int
    checks: int
    repairs: int
    family: str
    crisp: bool = False
    large: bool = False


def small_size(seed: int) -> Size:
    """The family by turn, a third with always and never only; 4 to 10 causes, 3 to 9 checks, 3 to 6 repairs."""
    rng = np.random.default_rng([seed, 7])
    return Size(
        causes=int(rng.integers(4, 11)),
        checks=int(rng.integers(3, 10)),
        repairs=int(rng.integers(3, 7)),
        family=FAMILIES[seed % len(FAMILIES)],
        crisp=bool(rng.random() < 0.35),
    )


def generate(seed: int, size: Size) -> tuple[IsolationModel, Energy]:
    """The model of a seed and the state its session starts in."""
    rng = np.random.default_rng(seed)
    named = size.causes - 1
    weights = rng.choice([30, 10, 3, 1], size=named, p=[0.15, 0.35, 0.30, 0.20]) * rng.uniform(0.7, 1.4, named)
    leak = rng.uniform(0.02, 0.08)
    prior = [*(weights / weights.sum() * (1 - leak)), leak]
    subsystems = _subsystems(rng, list(range(named)))
    checks = tuple(_check(rng, size, index, subsystems) for index in range(size.checks))
    ladder = EnergyLadder(
        running_stopped=rng.uniform(0.5, 2),
        stopped_running=rng.uniform(1, 4),
        stopped_isolated=rng.uniform(4, 12),
        isolated_stopped=rng.uniform(3, 8),
    )
    model = IsolationModel(
        id=f"{size.family}-{seed}",
        causes=(*(f"cause-{i}" for i in range(named)), SOMETHING_ELSE),
        prior=tuple(float(p / sum(prior)) for p in prior),
        checks=checks,
        repairs=_repairs(rng, size),
        ladder=ladder,
        proof_minutes=rng.uniform(2, 8),
        hand_over=rng.uniform(240, 480) if size.large else rng.uniform(120, 300),
    )
    return model, Energy.RUNNING if rng.random() < 0.4 else Energy.STOPPED


def _subsystems(rng: np.random.Generator, causes: list[int]) -> list[list[int]]:
    """All proper subsystems of a random binary partition."""
    found, open_parts = [], [list(rng.permutation(causes))]
    while open_parts:
        part = open_parts.pop()
        if len(part) < len(causes):
            found.append(part)
        if len(part) > 1:
            cut = int(rng.integers(1, len(part)))
            open_parts += [part[:cut], part[cut:]]
    return [part for part in found if len(part) > 1] or found


def _members(rng: np.random.Generator, size: Size, subsystems: list[list[int]]) -> list[int]:
    """Causes that a group check sees."""
    named = size.causes - 1
    family = size.family if size.family != "mixed" else str(rng.choice(["chain", "tree", "flat"]))
    if family == "chain":
        return list(range(int(rng.integers(1, named)))) if named > 1 else [0]
    if family == "tree":
        return subsystems[int(rng.integers(len(subsystems)))]
    many = max(1, round(named * rng.uniform(0.25, 0.67)))
    return [int(c) for c in rng.choice(named, size=many, replace=False)]


def _check(rng: np.random.Generator, size: Size, index: int, subsystems: list[list[int]]) -> IsolationCheck:
    local = bool(rng.random() < LOCAL_SHARE[size.family])
    members = [int(rng.integers(size.causes - 1))] if local else _members(rng, size, subsystems)
    inside, outside = (1.0, 0.0) if size.crisp else QUALITY[int(rng.choice(3, p=[0.4, 0.4, 0.2]))]
    abnormal = np.full(size.causes, outside)
    abnormal[members] = inside
    abnormal[-1] = outside if local else 0.5
    rows = [abnormal, 1.0 - abnormal]
    outcomes: tuple[str, ...] = ("abnormal", "normal")
    if not local and rng.random() < 0.2:
        low = np.where(np.isin(np.arange(size.causes), members[: max(1, len(members) // 2)]), 0.8, 0.2)
        rows, outcomes = [abnormal * low, abnormal * (1.0 - low), 1.0 - abnormal], ("low", "high", "normal")
    minutes = np.exp(rng.uniform(np.log(0.5), np.log(12))) if local else np.exp(rng.uniform(np.log(1), np.log(10)))
    states = STATE_SETS[int(rng.choice(6, p=LOCAL_STATES if local else GROUP_STATES))]
    return IsolationCheck(
        id=f"check-{index}",
        minutes=float(minutes),
        states=states,
        outcomes=outcomes,
        likelihood=tuple(tuple(float(cell) for cell in row) for row in rows),
        normal=len(outcomes) - 1,
        dont_know=float(rng.uniform(0.05, 0.2)) if not size.crisp and rng.random() < 0.3 else 0.0,
    )


def _repairs(rng: np.random.Generator, size: Size) -> tuple[IsolationRepair, ...]:
    """Every cause has an owner; some repairs swap a module and cure up to half of the other causes too."""
    named = size.causes - 1
    owners = [*rng.permutation(size.repairs)[: min(size.repairs, named)]]
    owners += [int(rng.integers(size.repairs)) for _ in range(named - len(owners))]
    repairs = []
    for index in range(size.repairs):
        success = 1.0 if rng.random() < 0.5 else float(rng.uniform(0.85, 0.98))
        cured = {cause for cause, owner in enumerate(owners) if owner == index}
        minutes = float(np.exp(rng.uniform(np.log(2), np.log(45))))
        if rng.random() < 0.15:
            others = [cause for cause in range(named) if cause not in cured]
            many = int(rng.integers(0, min(6, named // 2, len(others)) + 1))
            cured |= {int(cause) for cause in rng.choice(others, size=many, replace=False)} if many else set()
            minutes = float(rng.uniform(25, 80))
        cures: list[Any] = [success if cause in cured else 0.0 for cause in range(named)]
        repairs.append(
            IsolationRepair(
                id=f"repair-{index}",
                minutes=minutes,
                states=REPAIR_STATES[int(rng.choice(4, p=[0.08, 0.17, 0.15, 0.60]))],
                cures=(*cures, 0.0),
            )
        )
    return tuple(repairs)
