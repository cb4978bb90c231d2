"""Belief in the cure and the chance that an uncured machine passes -> how many passes in a row prove it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from assistant.domain.isolation import IsolationModel
from assistant.isolation.progress import Progress, cure_chance

DOUBT = 0.02
"""The chance of not being cured that is left when a job counts as proved."""
PLANNED_CURE = 0.8
"""The belief in the cure that the length of a proof is planned with, before it is known."""


def uncured_after(cure: float, passes_anyway: float, passes: int) -> float:
    """P(not cured) after k passes: (1-P) q^k / (P + (1-P) q^k), Bayes' theorem.

    Raises:
        ValueError: figures that are no chances.

    """
    if not (0.0 <= cure <= 1.0 and 0.0 <= passes_anyway < 1.0):
        raise ValueError(f"cure {cure}, passes anyway {passes_anyway}")
    rest = (1.0 - cure) * passes_anyway**passes
    return rest / (cure + rest) if cure + rest > 0 else 0.0


def passes_needed(cure: float, passes_anyway: float) -> int:
    """Least k that brings P(not cured) under DOUBT; one where a pass is certain proof or the cure past doubt."""
    if passes_anyway <= 0.0 or 1.0 - cure <= DOUBT:
        return 1
    least = max(
        cure, DOUBT
    )  # a cure that was not expected at all still ends: as if it had been as unlikely as the doubt
    wanted = math.log(DOUBT * least / ((1.0 - DOUBT) * (1.0 - least))) / math.log(passes_anyway)
    return max(1, math.ceil(wanted - 1e-9))


def passes_left(model: IsolationModel, at: Progress) -> int:
    """Passes still wanted of the unproved repairs; 0 when the job is proved."""
    if not at.passes:
        return passes_needed(cure_chance(model, at), model.passes_anyway)
    return max(0, passes_needed(cure_chance(model, replace(at, passes=0)), model.passes_anyway) - at.passes)


@dataclass(frozen=True, slots=True, kw_only=True)
class ProofCost:
    """Minutes of a proof of so many passes when the machine is cured, and expected when it is not: it fails early."""

    cured: float
    uncured: float


def proof_cost(model: IsolationModel, passes: int) -> ProofCost:
    """K v, and v (1 - q^k) / (1 - q): the passes until the first that fails, k at most."""
    q = model.passes_anyway
    return ProofCost(cured=passes * model.proof_minutes, uncured=model.proof_minutes * (1.0 - q**passes) / (1.0 - q))


def planned_cost(model: IsolationModel) -> ProofCost:
    """What a proof is priced with while planning."""
    return proof_cost(model, passes_needed(PLANNED_CURE, model.passes_anyway))
