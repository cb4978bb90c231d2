"""A policy over a model -> its exact expected minutes, by following every branch it can take."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

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
from assistant.domain.terms import Energy
from assistant.isolation.policy import Isolator, Place
from assistant.isolation.progress import Progress, after, posterior, start, survival

Policy = Callable[[Sequence[Place]], list[Work]]
"""Places of one model -> the action at each."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Branch:
    """What an action leads to: its own minutes, and the chance of each place after it."""

    minutes: float
    places: tuple[tuple[float, Place], ...] = ()


def policy_of(isolator: Isolator) -> Policy:
    """The policy of an isolator."""
    return lambda places: [decision.action for decision in isolator.decide_many(places)]


def failed_plainly(model: IsolationModel, at: Progress) -> Progress:
    """A failed proof without the restart: the problem that the optimum is computed for has one fault and no surprise."""
    return Progress(
        answers=at.answers, closed=at.closed, withdrawn=at.withdrawn, failed=at.failed | at.unproved
    )


def branch(model: IsolationModel, place: Place, work: Work, *, restart: bool = False) -> Branch:
    """One action further; proofs are perfect."""
    energy = getattr(work, "energy", place.energy)
    way = model.ladder.minutes(place.energy, energy)
    match work:
        case DoCheck(check=name):
            check = model.checks[model.check_index(name)]
            belief = posterior(model, place.at)
            events = [Answered(check=name, outcome=label) for label in check.outcomes]
            chances = [(1.0 - check.dont_know) * float(belief @ np.array(row)) for row in check.likelihood]
            places = [
                (chance, Place(at=after(model, place.at, event), energy=energy))
                for chance, event in zip(chances, events, strict=True)
                if chance > 1e-14
            ]
            if check.dont_know:
                places.append((check.dont_know, Place(at=after(model, place.at, DontKnow(check=name)), energy=energy)))
            return Branch(minutes=way + check.minutes, places=tuple(places))
        case DoRepair(repair=name):
            repair = model.repairs[model.repair_index(name)]
            done = Place(at=after(model, place.at, Repaired(repair=name)), energy=energy)
            return Branch(minutes=way + repair.minutes + repair.price, places=((1.0, done),))
        case Prove():
            left = float(posterior(model, place.at) @ survival(model, place.at.unproved))
            failed = after(model, place.at, ProofFailed()) if restart else None
            minutes = way + model.proof_minutes
            if left <= 1e-14:
                return Branch(minutes=minutes)
            then = failed or failed_plainly(model, place.at)
            return Branch(minutes=minutes, places=((left, Place(at=then, energy=energy)),))
        case HandOver():
            return Branch(minutes=model.hand_over)
    raise AssertionError(work)


def expected_minutes(model: IsolationModel, policy: Policy, energy: Energy) -> float:
    """Expected minutes of a policy from the first decision on."""
    return tree_minutes(model, policy, Place(at=start(model), energy=energy))


def tree_minutes(model: IsolationModel, policy: Policy, root: Place) -> float:
    """The same from a place; places met twice are decided once."""
    branches: dict[Place, Branch] = {}
    layers: list[list[Place]] = [[root]]
    while layers[-1]:
        fresh = [place for place in dict.fromkeys(layers[-1]) if place not in branches]
        for place, work in zip(fresh, policy(fresh), strict=True):
            branches[place] = branch(model, place, work)
        layers.append([then for place in fresh for _, then in branches[place].places])
    cost: dict[Place, float] = {}
    for layer in reversed(layers):
        for place in layer:
            if place not in cost:
                found = branches[place]
                cost[place] = found.minutes + sum(chance * cost[then] for chance, then in found.places)
    return cost[root]
