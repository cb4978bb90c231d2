"""Fault -> its planner, compiled once; the weights may be those learned from closed jobs."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from assistant.domain.entries import FaultModel
from assistant.domain.knowledge import KnowledgeBase
from assistant.domain.terms import EntryId
from assistant.isolation import Isolator, compile_model, ladder_of

Weights = Callable[[FaultModel], Mapping[str, float] | None]


class Isolators:
    """Planners by fault; callable as the guide wants it."""

    def __init__(self, knowledge: KnowledgeBase, weights: Weights = lambda fault: None) -> None:
        """`weights` gives learned cause weights of a fault, or None for the authored ones."""
        self._ladders = {machine.pack: ladder_of(machine.values) for machine in knowledge.machines}
        self._weights = weights
        self._made: dict[EntryId, Isolator] = {}

    def __call__(self, fault: FaultModel) -> Isolator:
        """The planner of a fault."""
        if fault.full_id not in self._made:
            model = compile_model(fault, self._ladders[fault.pack], self._weights(fault))
            self._made[fault.full_id] = Isolator(model)
        return self._made[fault.full_id]
