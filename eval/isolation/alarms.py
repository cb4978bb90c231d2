"""Simulated sessions -> how often "this does not fit" is said before they end, rightly and wrongly."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, fields, replace

import numpy as np

from assistant.domain.fault_log import Answered
from assistant.domain.isolation import IsolationModel
from assistant.domain.terms import Energy
from assistant.isolation.contradiction import Contradiction, contradiction, contradiction_at
from assistant.isolation.policy import Place
from eval.isolation.simulation import DONT_KNOW, Faults, Flags, Ints, Machines, Simulation, draw


@dataclass(frozen=True, slots=True, kw_only=True)
class Alarms:
    """Counts of sessions and of what was said in them; `first_right` and `two_right` among the alarms with a wrong answer."""

    sessions: int = 0
    false_alarms: int = 0
    strange_anyway: int = 0
    slips: int = 0
    caught: int = 0
    first_right: int = 0
    two_right: int = 0
    strangers: int = 0
    named_strange: int = 0

    def __add__(self, other: Alarms) -> Alarms:
        """Several models together."""
        return Alarms(**{f.name: getattr(self, f.name) + getattr(other, f.name) for f in fields(self)})


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """Per job (F,) whether the alarm rang, whether something else was named, and the first two suspects (F, 2), -1 for none."""

    alarm: Flags
    strange: Flags
    suspects: Ints


def heard(
    model: IsolationModel, simulation: Simulation, machines: Machines, energy: Energy
) -> tuple[Heard, dict[Place, Ints]]:
    """What is said in guided sessions before they end, and where each job's first repair was."""
    found = Heard(
        alarm=np.zeros(machines.many, dtype=bool),
        strange=np.zeros(machines.many, dtype=bool),
        suspects=np.full((machines.many, 2), -1, dtype=np.intp),
    )

    def watch(place: Place, jobs: Ints) -> None:
        if place.at.unproved:
            return
        said = contradiction_at(model, place.at)
        if said.alarm:
            found.suspects[jobs[~found.alarm[jobs]]] = suspects_of(model, said)
            found.alarm[jobs] = True
        if said.strange:
            found.strange[jobs] = True

    return found, simulation.run(machines, energy, watch).first


def suspects_of(model: IsolationModel, said: Contradiction) -> tuple[int, int]:
    """Checks of the first two suspects."""
    checks = [model.check_index(suspect.check) for suspect in said.suspects[:2]]
    first, second = (*checks, -1, -1)[:2]
    return first, second


def alarms(model: IsolationModel, simulation: Simulation, energy: Energy, many: int, seed: int = 9) -> Alarms:
    """Guided sessions with a named cause answered as it is, the same with one answer reversed, and with none of the causes."""
    faults = draw(named_only(model), many, seed)
    plain, first = heard(model, simulation, faults, energy)
    wrong, slipped = one_reversed(model, faults, first, seed)
    misled, _ = heard(model, simulation, wrong, energy)
    nothing = replace(model, prior=(*(0.0 for _ in model.prior[:-1]), 1.0))
    strange, _ = heard(model, simulation, draw(nothing, many, seed + 1), energy)
    return counted(plain, misled, slipped) + Alarms(
        strangers=many, named_strange=int((strange.strange | strange.alarm).sum())
    )


def counted(plain: Heard, misled: Heard, slipped: Ints) -> Alarms:
    """Sessions without a slip and the same with one; `slipped` is the check that was answered wrongly, -1 for none."""
    slip = slipped >= 0
    right = misled.alarm[:, None] & (misled.suspects == slipped[:, None]) & slip[:, None]
    return Alarms(
        sessions=len(plain.alarm),
        false_alarms=int(plain.alarm.sum()),
        strange_anyway=int(plain.strange.sum()),
        slips=int(slip.sum()),
        caught=int((misled.alarm & slip).sum()),
        first_right=int(right[:, 0].sum()),
        two_right=int(right.any(axis=1).sum()),
    )


def named_only(model: IsolationModel) -> IsolationModel:
    """The model without something else: what named faults are drawn from."""
    raw = (*model.prior[:-1], 0.0)
    return replace(model, prior=tuple(weight / sum(raw) for weight in raw))


def answered_all(model: IsolationModel, many: int, seed: int = 19) -> Alarms:
    """Sessions in which every check of the model is answered before anything is repaired, with and without one answer reversed."""
    faults = draw(named_only(model), many, seed)
    rng = np.random.default_rng([seed, 4])
    slipped = rng.integers(len(model.checks), size=many)
    wrong = faults.answer.copy()
    for job, index in enumerate(slipped.tolist()):
        wrong[job, index] = another(model, rng, index, int(wrong[job, index]))
    plain, misled = whole(model, faults.answer), whole(model, wrong)
    nothing = replace(model, prior=(*(0.0 for _ in model.prior[:-1]), 1.0))
    strange = whole(model, draw(nothing, many, seed + 1).answer)
    return counted(plain, misled, slipped) + Alarms(
        strangers=many, named_strange=int((strange.strange | strange.alarm).sum())
    )


def whole(model: IsolationModel, answers: Ints) -> Heard:
    """What is said of these answers (F, checks)."""
    said = [
        contradiction(
            model,
            [
                Answered(check=check.id, outcome=check.outcomes[answer])
                for check, answer in zip(model.checks, row, strict=True)
                if answer != DONT_KNOW
            ],
        )
        for row in answers.tolist()
    ]
    return Heard(
        alarm=np.array([some.alarm for some in said]),
        strange=np.array([some.strange for some in said]),
        suspects=np.array([suspects_of(model, some) for some in said]),
    )


def another(model: IsolationModel, rng: np.random.Generator, check: int, said: int) -> int:
    """Any other outcome of a check."""
    return int(rng.choice([o for o in range(len(model.checks[check].outcomes)) if o != said]))


def one_reversed(model: IsolationModel, faults: Faults, first: dict[Place, Ints], seed: int) -> tuple[Faults, Ints]:
    """The same machines with one of the answers that were given replaced by another outcome, and which check (-1: none)."""
    rng = np.random.default_rng([seed, 3])
    answer = faults.answer.copy()
    slipped = np.full(faults.many, -1, dtype=np.intp)
    for place, jobs in first.items():
        given = [index for index, said in enumerate(place.at.answers) if said is not None]
        if not given:
            continue
        for job, index in zip(jobs.tolist(), rng.choice(given, size=len(jobs)).tolist(), strict=True):
            answer[job, index] = another(model, rng, index, int(answer[job, index]))
            slipped[job] = index
    return replace(faults, answer=answer), slipped


def alarm_table(title: str, found: Alarms) -> Iterable[str]:
    """The rates with their intervals."""

    def line(name: str, part: int, whole: int) -> str:
        low, high = wilson(part, whole) if whole else (0.0, 1.0)
        return f"  {name:62} {part / max(whole, 1):6.1%} ({low:.1%} to {high:.1%}) of {whole}"

    yield f"what does not fit, {title}"
    yield line("a named cause, all as stated: alarm (false)", found.false_alarms, found.sessions)
    yield line("a named cause, all as stated: something else named (false)", found.strange_anyway, found.sessions)
    yield line("one answer reversed: alarm (true)", found.caught, found.slips)
    yield line("  of these, the first answer to look at again is the one", found.first_right, found.caught)
    yield line("  of these, it is among the first two", found.two_right, found.caught)
    yield line("none of the causes: alarm or something else named (true)", found.named_strange, found.strangers)


def wilson(part: int, whole: int) -> tuple[float, float]:
    """95 % score interval of a share (Wilson 1927; formula from memory)."""
    z, p = 1.96, part / whole
    middle = (p + z * z / (2 * whole)) / (1 + z * z / whole)
    half = z / (1 + z * z / whole) * float(np.sqrt(p * (1 - p) / whole + z * z / (4 * whole * whole)))
    return middle - half, middle + half
