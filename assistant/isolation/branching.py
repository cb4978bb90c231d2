"""A place and an action -> the places that it may lead to, each with its chance."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from assistant.domain.fault_log import (
    Answered,
    DoCheck,
    DontKnow,
    DoRepair,
    HandOver,
    ProofFailed,
    Prove,
    Repaired,
    Work,
)
from assistant.domain.isolation import IsolationModel
from assistant.isolation.policy import Place
from assistant.isolation.progress import Progress, after, posterior, survival
from assistant.isolation.proof import passes_left, proof_cost

NOTHING = 1e-14
"""A chance below this is rounding."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Branch:
    """What an action leads to: its own minutes with the ladder, and the places after it; chances missing to one end the job."""

    minutes: float
    places: tuple[tuple[float, Place], ...] = ()


def branch(model: IsolationModel, place: Place, work: Work, *, restart: bool = True) -> Branch:
    """One action further; `restart` False keeps all answers after a failed proof however surprising.

    A proof of as many passes as the belief asks for counts as perfect; its minutes are the mean over cured and uncured.
    """
    energy = getattr(work, "energy", place.energy)
    way = model.ladder.minutes(place.energy, energy)
    if isinstance(work, DoCheck):
        return _check(model, Place(at=place.at, energy=energy), work, way)
    if isinstance(work, DoRepair):
        repair = model.repairs[model.repair_index(work.repair)]
        done = Place(at=after(model, place.at, Repaired(repair=repair.id)), energy=energy)
        return Branch(minutes=way + repair.minutes + repair.price, places=((1.0, done),))
    if isinstance(work, Prove):
        cost = proof_cost(model, passes_left(model, place.at))
        uncured = float(posterior(model, place.at) @ survival(model, place.at.unproved))
        minutes = way + (1.0 - uncured) * cost.cured + uncured * cost.uncured
        if uncured <= NOTHING:
            return Branch(minutes=minutes)
        then = after(model, place.at, ProofFailed()) if restart else failed_plainly(place.at)
        return Branch(minutes=minutes, places=((uncured, Place(at=then, energy=energy)),))
    return Branch(minutes=model.hand_over if isinstance(work, HandOver) else 0.0)


def failed_plainly(at: Progress) -> Progress:
    """A failed proof without restart: what the problem says that has one fault for sure."""
    return replace(at, failed=at.failed | at.unproved, unproved=frozenset(), passes=0)


def _check(model: IsolationModel, there: Place, work: DoCheck, way: float) -> Branch:
    check = model.checks[model.check_index(work.check)]
    chances = (1.0 - check.dont_know) * (np.array(check.likelihood) @ posterior(model, there.at))
    places = [
        (float(chance), replace(there, at=after(model, there.at, Answered(check=check.id, outcome=label))))
        for chance, label in zip(chances, check.outcomes, strict=True)
        if chance > NOTHING
    ]
    if check.dont_know:
        places.append((check.dont_know, replace(there, at=after(model, there.at, DontKnow(check=check.id)))))
    return Branch(minutes=way + check.minutes, places=tuple(places))
