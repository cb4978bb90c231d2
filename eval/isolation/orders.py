"""The orders that the policy is compared with: a printed fault table, a fixed checklist, likeliest first, information gain."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import numpy.typing as npt

from assistant.domain.fault_log import DoCheck, DoRepair, HandOver, Prove, Work
from assistant.domain.isolation import LADDER, IsolationCheck, IsolationModel, IsolationRepair, depth
from assistant.domain.terms import Energy
from assistant.isolation.lookahead import Search, entropy
from assistant.isolation.policy import Isolator, Place
from assistant.isolation.progress import posterior
from assistant.isolation.proof import passes_needed, proof_cost
from eval.isolation.tree import Policy

Floats = npt.NDArray[np.float64]
COVERED = 0.8
"""A repair that cures with this chance is done without a further check."""
LEAST_BITS = 0.01
"""A check that tells less is not done for information."""
TELLING = 1.5
"""Least likelihood ratio of a check that a printed table names for a cause."""


def nearest(states: Sequence[Energy], model: IsolationModel, energy: Energy) -> Energy:
    """The allowed state reached in fewest minutes."""
    return min(states, key=lambda state: (model.ladder.minutes(energy, state), depth(state)))


def beliefs_of(model: IsolationModel, places: Sequence[Place]) -> tuple[Floats, Floats]:
    """Beliefs (places, n), and the chance (places, repairs) that each repair left cures now."""
    cures = np.array([repair.cures for repair in model.repairs]).reshape(-1, len(model.causes))
    beliefs = np.array([posterior(model, place.at) for place in places]).reshape(-1, len(model.causes))
    spare = np.array([place.at.spare for place in places]).reshape(-1, len(cures))
    return beliefs, (beliefs @ cures.T) * spare


def each(model: IsolationModel, step: Callable[[Place, Floats], Work]) -> Policy:
    """A policy place by place: it is given the chance (repairs,) that each repair left cures now."""

    def policy(places: Sequence[Place]) -> list[Work]:
        _, chances = beliefs_of(model, places)
        return [step(place, chance) for place, chance in zip(places, chances, strict=True)]

    return policy


def do_repair(model: IsolationModel, repair: IsolationRepair, place: Place) -> DoRepair:
    """A repair in the nearest state."""
    return DoRepair(repair=repair.id, energy=nearest(repair.states, model, place.energy))


def do_check(model: IsolationModel, check: IsolationCheck, place: Place) -> DoCheck:
    """A check in the nearest state."""
    return DoCheck(check=check.id, energy=nearest(check.states, model, place.energy))


def likeliest(model: IsolationModel, place: Place, chance: Floats) -> Work:
    """The repair likeliest to cure, proved at once; handing over when that is cheaper than what the repair can bring."""
    if place.at.unproved:
        return Prove(energy=model.proof_energy)
    worth = [g > 0 and g * model.hand_over > r.minutes + r.price for g, r in zip(chance, model.repairs, strict=True)]
    if not any(worth):
        return HandOver()
    return do_repair(model, model.repairs[int(np.argmax(np.where(worth, chance, -1.0)))], place)


def most_likely_first(model: IsolationModel) -> Policy:
    """No checks."""
    return each(model, lambda place, chance: likeliest(model, place, chance))


def fixed_order(model: IsolationModel, order: Sequence[int]) -> Policy:
    """Checks in an order, results read by the exact posterior; repair as soon as one covers enough."""

    def step(place: Place, chance: Floats) -> Work:
        if place.at.unproved:
            return Prove(energy=model.proof_energy)
        next_check = next((index for index in order if not place.at.closed[index]), None)
        if next_check is not None and chance.max(initial=0.0) < COVERED:
            return do_check(model, model.checks[next_check], place)
        return likeliest(model, place, chance)

    return each(model, step)


def by_energy(model: IsolationModel) -> list[int]:
    """Checks by the shallowest state they may be done in, author's order within."""
    return sorted(range(len(model.checks)), key=lambda i: (min(depth(e) for e in model.checks[i].states), i))


def by_minutes(model: IsolationModel) -> list[int]:
    """Cheapest check first."""
    return sorted(range(len(model.checks)), key=lambda i: (model.checks[i].minutes, i))


def information_gain(model: IsolationModel, covered: float = COVERED) -> Policy:
    """Most bits over causes per minute with the ladder, until a repair covers enough or no check tells; then the repair plan."""
    plan = Isolator(model, Search(depth=0))

    def policy(places: Sequence[Place]) -> list[Work]:
        beliefs, chances = beliefs_of(model, places)
        rates = bits_a_minute(model, places, beliefs)
        unproved = np.array([bool(place.at.unproved) for place in places])
        look = ~unproved & (chances.max(axis=1, initial=0.0) < covered) & (rates.max(axis=1, initial=0.0) > 0.0)
        planned = iter(plan.decide_many([place for place, looks in zip(places, look, strict=True) if not looks]))
        return [
            do_check(model, model.checks[int(np.argmax(rate))], place) if looks else next(planned).action
            for place, looks, rate in zip(places, look, rates, strict=True)
        ]

    return policy


def bits_a_minute(model: IsolationModel, places: Sequence[Place], beliefs: Floats) -> Floats:
    """Information of every check (places, checks) per minute; 0 where it is closed or tells too little."""
    if not model.checks:
        return np.zeros((len(places), 0))
    table = np.array([row for check in model.checks for row in check.likelihood])
    starts = np.cumsum([0, *(len(check.outcomes) for check in model.checks[:-1])])
    known = np.array([1.0 - check.dont_know for check in model.checks])
    rows = np.concatenate([entropy(belief * table)[None, :] for belief in beliefs])
    bits = known * (entropy(beliefs)[:, None] - np.add.reduceat(rows, starts, axis=1))
    way = {
        energy: [c.minutes + min(model.ladder.minutes(energy, s) for s in c.states) for c in model.checks]
        for energy in LADDER
    }
    own = np.array([way[place.energy] for place in places])
    asked = (bits >= LEAST_BITS) & ~np.array([place.at.closed for place in places])
    return np.where(asked, bits / np.maximum(own, 1e-9), 0.0)


def printed_table(model: IsolationModel) -> Policy:
    """Cause by cause in order of frequency: its most telling check, on that outcome its repair and the proof, else the next."""
    order = sorted(range(len(model.causes) - 1), key=lambda c: (-model.prior[c], c))
    rows = [(_owner(model, cause), _telling(model, cause)) for cause in order]

    def step(place: Place, _: Floats) -> Work:
        if place.at.unproved:
            return Prove(energy=model.proof_energy)
        left = place.at.spare
        for repair, sign in rows:
            if repair is None or not left[repair]:
                continue
            if sign is None:
                return do_repair(model, model.repairs[repair], place)
            check, outcome = sign
            if not place.at.closed[check]:
                return do_check(model, model.checks[check], place)
            answer = place.at.answers[check]
            if answer is not None and answer[outcome] == 1.0:
                return do_repair(model, model.repairs[repair], place)
        rest = [repair for repair, _ in rows if repair is not None and left[repair]]
        return do_repair(model, model.repairs[rest[0]], place) if rest else HandOver()

    return each(model, step)


def _owner(model: IsolationModel, cause: int) -> int | None:
    """The repair that cures a cause best, the quicker of two."""
    able = [i for i, repair in enumerate(model.repairs) if repair.cures[cause] > 0]
    return min(able, key=lambda i: (-model.repairs[i].cures[cause], model.repairs[i].minutes, i), default=None)


def _telling(model: IsolationModel, cause: int) -> tuple[int, int] | None:
    """Check and outcome that speak most for a cause against the others."""
    others = np.array(model.prior)
    others[cause] = 0.0
    best: tuple[float, int, int] | None = None
    for index, check in enumerate(model.checks):
        for outcome, row in enumerate(check.likelihood if check.offered else ()):
            against = float(np.array(row) @ others) / max(float(others.sum()), 1e-300)
            ratio = row[cause] / max(against, 1e-9)
            if row[cause] >= 0.5 and ratio >= TELLING and (best is None or ratio > best[0]):
                best = (ratio, index, outcome)
    return None if best is None else best[1:]


def known_cause_minutes(model: IsolationModel, energy: Energy) -> Floats:
    """Least minutes (n,) if the cause were known: the cheapest cure with its proof and what its failing costs, or handing over."""
    home = model.proof_energy
    least = []
    for cause in range(len(model.causes)):
        able = [repair for repair in model.repairs if repair.cures[cause] > 0]
        least.append(_known(model, cause, able, energy, home))
    return np.array(least)


def _known(model: IsolationModel, cause: int, able: Sequence[IsolationRepair], energy: Energy, home: Energy) -> float:
    """Every next repair in turn, the rest after it has failed."""
    best = model.hand_over
    for repair in able:
        cures = repair.cures[cause]
        proof = proof_cost(model, passes_needed(cures, model.passes_anyway))
        way = min(model.ladder.minutes(energy, s) + model.ladder.minutes(s, home) for s in repair.states)
        cost = way + repair.minutes + repair.price + cures * proof.cured + (1.0 - cures) * proof.uncured
        if cost >= best:
            continue
        rest = [other for other in able if other is not repair]
        failing = 1.0 - cures
        best = min(best, cost + (failing * _known(model, cause, rest, home, home) if failing > 0 else 0.0))
    return best
