"""A policy over a model -> its exact expected minutes, by following every branch it can take."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from assistant.domain.fault_log import Work
from assistant.domain.isolation import IsolationModel
from assistant.domain.terms import Energy
from assistant.isolation.branching import Branch, branch
from assistant.isolation.policy import Isolator, Place
from assistant.isolation.progress import start

Policy = Callable[[Sequence[Place]], list[Work]]
"""Places of one model -> the action at each."""


def policy_of(isolator: Isolator) -> Policy:
    """The policy of an isolator."""
    return lambda places: [decision.action for decision in isolator.decide_many(places)]


def expected_minutes(model: IsolationModel, policy: Policy, energy: Energy, *, restart: bool = False) -> float:
    """Expected minutes of a policy from the first decision on; places met twice are decided once.

    Without the restart after a surprising proof: the problem that the optimum is computed for has one fault for sure.
    """
    root = Place(at=start(model), energy=energy)
    branches: dict[Place, Branch] = {}
    layer = [root]
    while layer:
        fresh = [place for place in dict.fromkeys(layer) if place not in branches]
        for place, work in zip(fresh, policy(fresh) if fresh else (), strict=True):
            branches[place] = branch(model, place, work, restart=restart)
        layer = [then for place in fresh for _, then in branches[place].places]
    cost: dict[Place, float] = {}
    # what follows first: after a restart the same place may be met at several depths
    stack = [root]
    while stack:
        found = branches[stack[-1]]
        waiting = [then for _, then in found.places if then not in cost]
        if waiting:
            stack += waiting
        else:
            cost[stack.pop()] = found.minutes + sum(chance * cost[then] for chance, then in found.places)
    return cost[root]
