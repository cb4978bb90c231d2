"""Sessions in which any answer may be wrong -> minutes when the suspect is taken again at an alarm, and when nobody looks back."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from assistant.domain.fault_log import DoCheck, HandOver, Work
from assistant.domain.isolation import IsolationModel
from assistant.domain.terms import Energy
from assistant.isolation.contradiction import ALARM, SLIP, contradiction_at
from assistant.isolation.policy import Place
from assistant.isolation.progress import after, start
from eval.isolation.orders import do_check
from eval.isolation.simulation import DONT_KNOW, Faults, Flags, Floats, Ints, Simulation, draw, said_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Misread:
    """F machines and what is said of their checks (F, checks) at the first look; a second look is right."""

    truth: Faults
    said: Ints

    @property
    def many(self) -> int:
        """How many."""
        return self.truth.many

    @property
    def wrong(self) -> Flags:
        """(F, checks) where the first look is wrong."""
        return np.asarray(self.said != self.truth.answer)


def misread(model: IsolationModel, truth: Faults, seed: int, slip: float = SLIP) -> Misread:
    """Every answer is with chance `slip` another outcome of its check, each of the others alike."""
    rng = np.random.default_rng([seed, 21])
    said = truth.answer.copy()
    for index, check in enumerate(model.checks):
        others = len(check.outcomes) - 1
        slips = (rng.random(truth.many) < slip) & (said[:, index] != DONT_KNOW)
        moved = (said[:, index] + rng.integers(1, others + 1, size=truth.many)) % (others + 1)
        said[:, index] = np.where(slips, moved, said[:, index])
    return Misread(truth=truth, said=said)


@dataclass(frozen=True, slots=True, kw_only=True)
class Looked:
    """A place, the last answer to every check that was looked at, and the checks whose last two looks were alike."""

    place: Place
    last: frozenset[tuple[int, int]] = frozenset()
    twice: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class Heeded:
    """Minutes (F,), alarms heeded (F,) and hand-overs (F,)."""

    minutes: Floats
    alarms: Ints
    handed_over: Flags


class Retaking:
    """Sessions under one policy in which an alarm is heeded: the first suspect is taken again, at its minutes, then believed.

    A check that a surprising proof opened again is looked at anew too. `least` is the chance of a slip that rings; None never.
    """

    def __init__(self, model: IsolationModel, simulation: Simulation, least: float | None = 1.0 - ALARM) -> None:
        self._model = model
        self._simulation = simulation
        self._least = least

    def run(self, machines: Misread, energy: Energy) -> Heeded:
        """All jobs to their end."""
        minutes, alarms = np.zeros(machines.many), np.zeros(machines.many, dtype=np.intp)
        handed = np.zeros(machines.many, dtype=bool)
        layer = {Looked(place=Place(at=start(self._model), energy=energy)): np.arange(machines.many)}
        while layer:
            works = dict(zip(layer, self._simulation.works([looked.place for looked in layer]), strict=True))
            then: dict[Looked, list[Ints]] = {}
            for looked, jobs in layer.items():
                again = self._suspect(looked)
                work = works[looked] if again is None else again
                alarms[jobs] += again is not None
                minutes[jobs] += self._simulation.minutes_of(looked.place, work, jobs, machines.truth)
                handed[jobs] = isinstance(work, HandOver)
                for next_looked, some in self._next(looked, work, jobs, machines):
                    then.setdefault(next_looked, []).append(some)
            layer = {looked: np.concatenate(some) for looked, some in then.items()}
        return Heeded(minutes=minutes, alarms=alarms, handed_over=handed)

    def _suspect(self, looked: Looked) -> DoCheck | None:
        """The check to take again here."""
        if self._least is None or looked.place.at.unproved:
            return None
        said = contradiction_at(self._model, looked.place.at, twice=looked.twice)
        if not said.suspects or 1.0 - said.all_as_stated <= self._least:
            return None
        index = self._model.check_index(said.suspects[0].check)
        if index in looked.twice:
            return None
        check = self._model.checks[index]
        return do_check(self._model, check, looked.place)

    def _next(self, looked: Looked, work: Work, jobs: Ints, machines: Misread) -> Iterable[tuple[Looked, Ints]]:
        if not isinstance(work, DoCheck):
            for place, some in self._simulation.after(looked.place, work, jobs, machines.truth):
                yield replace(looked, place=place), some
            return
        index = self._model.check_index(work.check)
        last = dict(looked.last)
        answers = (machines.truth.answer if index in last else machines.said)[jobs, index]
        for answer in np.unique(answers).tolist():
            at = after(self._model, looked.place.at, said_of(self._model, index, answer))
            alike = {index} if last.get(index) == answer else set()
            yield (
                Looked(
                    place=Place(at=at, energy=work.energy),
                    last=frozenset({**last, index: answer}.items()),
                    twice=looked.twice - {index} | alike,
                ),
                jobs[answers == answer],
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class RetakeCost:
    """The same jobs with the alarm heeded and unheeded, and whether any answer of a job would be misread (F,)."""

    heeded: Heeded
    unheeded: Heeded
    wrong: Flags


def retake_cost(model: IsolationModel, simulation: Simulation, energy: Energy, many: int, seed: int = 11) -> RetakeCost:
    """Faults of the model, each answer wrong with chance SLIP."""
    jobs = misread(model, draw(model, many, seed), seed)
    return RetakeCost(
        heeded=Retaking(model, simulation).run(jobs, energy),
        unheeded=Retaking(model, simulation, None).run(jobs, energy),
        wrong=np.asarray(jobs.wrong.any(axis=1)),
    )
