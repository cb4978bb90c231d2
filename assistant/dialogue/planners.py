"""Fault -> its planner, compiled once; the weights may be those learned from closed jobs."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from assistant.domain.entries import FaultModel
from assistant.domain.knowledge import KnowledgeBase
from assistant.domain.terms import EntryId
from assistant.isolation import Isolator, compile_model, ladder_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Learned:
    """Cause weights that lean on so many closed jobs (a fraction where a job speaks for several causes)."""

    weights: Mapping[str, float]
    jobs: int


Lessons = Callable[[FaultModel], Learned | None]


class Isolators:
    """Planners by fault; callable as the guide wants it."""

    def __init__(self, knowledge: KnowledgeBase, lessons: Lessons = lambda fault: None) -> None:
        """`lessons` gives learned cause weights of a fault, or None for the authored ones."""
        self._ladders = {machine.pack: ladder_of(machine.values) for machine in knowledge.machines}
        self._lessons = lessons
        self._made: dict[EntryId, tuple[Isolator, int]] = {}

    def __call__(self, fault: FaultModel) -> Isolator:
        """The planner of a fault."""
        return self._of(fault)[0]

    def jobs(self, fault: FaultModel) -> int:
        """How many closed jobs its weights lean on, beside the authored ones."""
        return self._of(fault)[1]

    def _of(self, fault: FaultModel) -> tuple[Isolator, int]:
        if fault.full_id not in self._made:
            learned = self._lessons(fault)
            weights = None if learned is None else learned.weights
            model = compile_model(fault, self._ladders[fault.pack], weights)
            self._made[fault.full_id] = (Isolator(model), 0 if learned is None else learned.jobs)
        return self._made[fault.full_id]
