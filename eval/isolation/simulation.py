"""A fault model, seeded faults and a policy -> minutes of every job; all policies meet the same faults and answers."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
import numpy.typing as npt

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
from assistant.isolation.branching import failed_plainly
from assistant.isolation.policy import Place
from assistant.isolation.progress import after, start
from assistant.isolation.proof import passes_left, proof_cost
from eval.isolation.tree import Policy

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.intp]
Flags = npt.NDArray[np.bool_]
DONT_KNOW = -1


class Machines(Protocol):
    """F machines with a fault or several: what their checks show and when they are cured."""

    @property
    def many(self) -> int:
        """How many."""
        ...

    def answers(self, jobs: Ints, check: int, done: Iterable[int]) -> Ints:
        """What a check shows at each job after the repairs done."""
        ...

    def cured(self, jobs: Ints, done: Iterable[int]) -> Flags:
        """Whether the repairs done have cured each job's machine."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Faults:
    """F jobs: cause (F,), answer of every check (F, checks), whether every repair would cure (F, repairs). Answers persist."""

    cause: Ints
    answer: Ints
    cures: Flags

    @property
    def many(self) -> int:
        """How many."""
        return len(self.cause)

    def answers(self, jobs: Ints, check: int, done: Iterable[int]) -> Ints:
        """The same before and after a repair: one that did not cure changed nothing."""
        return np.asarray(self.answer[jobs, check])

    def cured(self, jobs: Ints, done: Iterable[int]) -> Flags:
        """Any of the repairs will do."""
        return np.asarray(self.cures[jobs][:, sorted(done)].any(axis=1))


@dataclass(frozen=True, slots=True, kw_only=True)
class Jobs:
    """Minutes and hand-overs (F,) of a policy; place of each job's first repair, in `first` by place its job numbers."""

    minutes: Floats
    handed_over: Flags
    first: dict[Place, Ints]

    @property
    def interval(self) -> tuple[float, float]:
        """95 % interval of the mean, normal approximation."""
        half = 1.96 * float(self.minutes.std(ddof=1)) / len(self.minutes) ** 0.5
        return float(self.minutes.mean()) - half, float(self.minutes.mean()) + half


def draw(model: IsolationModel, many: int, seed: int) -> Faults:
    """Faults of the true model."""
    rng = np.random.default_rng([seed, 99])
    cause = rng.choice(len(model.causes), size=many, p=np.array(model.prior))
    answers = np.empty((many, len(model.checks)), dtype=np.intp)
    for index, check in enumerate(model.checks):
        steps = np.cumsum(np.array(check.likelihood), axis=0)[:, cause]
        answers[:, index] = np.minimum((rng.random(many) >= steps).sum(axis=0), len(check.outcomes) - 1)
        answers[rng.random(many) < check.dont_know, index] = DONT_KNOW
    cures = np.array([repair.cures for repair in model.repairs]).reshape(-1, len(model.causes))
    return Faults(cause=cause, answer=answers, cures=rng.random((many, len(model.repairs))) < cures[:, cause].T)


Watch = Callable[[Place, Ints], None]


class Simulation:
    """One policy over one believed model; jobs in the same place are decided once and go on together."""

    def __init__(self, model: IsolationModel, policy: Policy, *, restart: bool = False) -> None:
        self._model = model
        self._policy = policy
        self._restart = restart
        self._known: dict[Place, Work] = {}

    def run(self, faults: Machines, energy: Energy, watch: Watch | None = None) -> Jobs:
        """All jobs to their end; `watch` is told every place and the jobs that come by."""
        minutes = np.zeros(faults.many)
        handed = np.zeros(faults.many, dtype=bool)
        first: dict[Place, Ints] = {}
        layer = {Place(at=start(self._model), energy=energy): np.arange(faults.many)}
        repaired: set[int] = set()
        while layer:
            works = self.works(list(layer))
            then: dict[Place, list[Ints]] = {}
            for (place, jobs), work in zip(layer.items(), works, strict=True):
                if watch is not None:
                    watch(place, jobs)
                minutes[jobs] += self.minutes_of(place, work, jobs, faults)
                if isinstance(work, HandOver):
                    handed[jobs] = True
                if isinstance(work, DoRepair):
                    new = np.array([job for job in jobs.tolist() if job not in repaired], dtype=np.intp)
                    repaired.update(new.tolist())
                    first[place] = new
                for next_place, some in self.after(place, work, jobs, faults):
                    then.setdefault(next_place, []).append(some)
            layer = {place: np.concatenate(some) for place, some in then.items()}
        return Jobs(minutes=minutes, handed_over=handed, first=first)

    def works(self, places: Sequence[Place]) -> list[Work]:
        """What the policy does at each; a place is decided once."""
        fresh = list(dict.fromkeys(place for place in places if place not in self._known))
        if fresh:
            self._known |= dict(zip(fresh, self._policy(fresh), strict=True))
        return [self._known[place] for place in places]

    def minutes_of(self, place: Place, work: Work, jobs: Ints, machines: Machines) -> Floats:
        """Minutes of an action at each job, the way and a proof's passes included."""
        spent = np.full(len(jobs), self._minutes(place, work))
        return spent + self._proof_minutes(place, jobs, machines) if isinstance(work, Prove) else spent

    def _minutes(self, place: Place, work: Work) -> float:
        model = self._model
        way = model.ladder.minutes(place.energy, getattr(work, "energy", place.energy))
        if isinstance(work, DoCheck):
            return way + model.checks[model.check_index(work.check)].minutes
        if isinstance(work, DoRepair):
            repair = model.repairs[model.repair_index(work.repair)]
            return way + repair.minutes + repair.price
        return model.hand_over if isinstance(work, HandOver) else way

    def _proof_minutes(self, place: Place, jobs: Ints, faults: Machines) -> Floats:
        """As many passes as the belief asks for, whatever the policy; expected passes of a machine that is not cured."""
        cost = proof_cost(self._model, passes_left(self._model, place.at))
        return np.where(faults.cured(jobs, _done(place)), cost.cured, cost.uncured)

    def after(self, place: Place, work: Work, jobs: Ints, faults: Machines) -> list[tuple[Place, Ints]]:
        """Where the jobs go from here; those that end are not in it. A proof that uncured machines may pass counts as perfect."""
        energy = getattr(work, "energy", place.energy)
        if isinstance(work, DoCheck):
            index = self._model.check_index(work.check)
            answers = faults.answers(jobs, index, _done(place))
            return [
                (
                    Place(at=after(self._model, place.at, said_of(self._model, index, int(a))), energy=energy),
                    jobs[answers == a],
                )
                for a in np.unique(answers)
            ]
        if isinstance(work, DoRepair):
            return [(Place(at=after(self._model, place.at, Repaired(repair=work.repair)), energy=energy), jobs)]
        if isinstance(work, HandOver):
            return []
        left = jobs[~faults.cured(jobs, _done(place))]
        failed = after(self._model, place.at, ProofFailed()) if self._restart else failed_plainly(place.at)
        return [(Place(at=failed, energy=energy), left)] if len(left) else []


def said_of(model: IsolationModel, index: int, answer: int) -> Answered | DontKnow:
    """An answer by its number as an event."""
    check = model.checks[index]
    if answer == DONT_KNOW:
        return DontKnow(check=check.id)
    return Answered(check=check.id, outcome=check.outcomes[answer])


def _done(place: Place) -> frozenset[int]:
    """All repairs done so far."""
    return place.at.failed | place.at.unproved
