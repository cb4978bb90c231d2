"""Simulated sessions -> how often "this does not fit" is said before they end, rightly and wrongly."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, fields, replace

import numpy as np
from threadpoolctl import threadpool_limits

from assistant.domain.fault_log import HandOver, Work
from assistant.domain.isolation import IsolationModel
from assistant.domain.terms import Energy
from assistant.isolation.contradiction import ALARM, STRANGE, contradiction_at
from assistant.isolation.policy import Place
from eval.isolation.bars import PROCESSES
from eval.isolation.generator import FAMILIES, Size, generate
from eval.isolation.orders import beliefs_of, bits_a_minute, do_check
from eval.isolation.simulation import Faults, Flags, Floats, Ints, Machines, Simulation, draw
from eval.isolation.tree import Policy

PUBLISHED_FALSE = 0.073
"""False alarms that the catch of the statistic is compared at, whatever the threshold."""
EIGHT = 8
EIGHT_SEED = 500_000
SIZE = (15, 25, 8)


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """Per job (F,): highest chance of a slip, of something else, suspects, whether a failed proof opened answers again.

    `suspects` (F, 2) are the first two when the alarm first rang, else at the highest chance; -1 for none.
    """

    slip: Floats
    strange: Floats
    suspects: Ints
    surprised: Flags

    @property
    def alarm(self) -> Flags:
        """Whether the alarm rang."""
        return np.asarray(self.slip > 1.0 - ALARM)


def silence(many: int) -> Heard:
    """Nothing said yet."""
    return Heard(
        slip=np.zeros(many),
        strange=np.zeros(many),
        suspects=np.full((many, 2), -1, dtype=np.intp),
        surprised=np.zeros(many, dtype=bool),
    )


def hear(model: IsolationModel, found: Heard, place: Place, jobs: Ints) -> None:
    """What is said at a place goes into `found`; nothing between a repair and its proof."""
    if place.at.unproved:
        return
    said = contradiction_at(model, place.at)
    chance = 1.0 - said.all_as_stated
    more = jobs[(chance > found.slip[jobs]) & ~found.alarm[jobs]]
    checks = [model.check_index(suspect.check) for suspect in said.suspects[:2]]
    found.suspects[more] = (*checks, -1, -1)[:2]
    found.slip[jobs] = np.maximum(found.slip[jobs], chance)
    found.strange[jobs] = np.maximum(found.strange[jobs], said.something_else)
    found.surprised[jobs] |= place.at.surprises > 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Alarms:
    """Sessions with a named cause answered as it is, the same with one answer replaced, and with none of the causes.

    `slipped` (F,) is the check that was answered wrongly, -1 for none.
    """

    plain: Heard
    misled: Heard
    slipped: Ints
    strangers: Heard

    @property
    def slips(self) -> Flags:
        """(F,) where an answer was replaced."""
        return np.asarray(self.slipped >= 0)

    @property
    def caught(self) -> Flags:
        """(F,) where one was and the alarm rang."""
        return np.asarray(self.misled.alarm & self.slips)

    def right(self, first: int) -> int:
        """Alarms whose first suspects have the wrong answer among them."""
        named = (self.misled.suspects[:, :first] == self.slipped[:, None]).any(axis=1)
        return int((named & self.caught).sum())

    @property
    def area(self) -> float:
        """Chance that a session with a slip has the higher chance of one, ties half: area under the operating curve."""
        without, having = np.sort(self.plain.slip), self.misled.slip[self.slips]
        below = np.searchsorted(without, having, "left") + np.searchsorted(without, having, "right")
        return float(below.mean() / 2 / len(without)) if len(having) and len(without) else 0.5

    def caught_at(self, false: float = PUBLISHED_FALSE) -> tuple[float, float]:
        """Least chance of a slip that leaves no more false alarms, and the share of slips above it."""
        having = self.misled.slip[self.slips]
        if not len(having):
            return 1.0, 0.0
        least = float(np.quantile(self.plain.slip, 1.0 - false, method="higher"))
        return least, float((having > least).mean())


def together(parts: Sequence[Alarms]) -> Alarms:
    """Several models."""

    def heard(some: Sequence[Heard]) -> Heard:
        return Heard(**{f.name: np.concatenate([getattr(one, f.name) for one in some]) for f in fields(Heard)})

    return Alarms(
        plain=heard([part.plain for part in parts]),
        misled=heard([part.misled for part in parts]),
        slipped=np.concatenate([part.slipped for part in parts]),
        strangers=heard([part.strangers for part in parts]),
    )


# --- guided sessions -----------------------------------------------------------------------------------------------------------


def guided(model: IsolationModel, simulation: Simulation, energy: Energy, many: int, seed: int = 9) -> Alarms:
    """Sessions to their end; the answer replaced is one of those given before the first repair."""

    def run(machines: Machines) -> tuple[Heard, dict[Place, Ints]]:
        found = silence(machines.many)
        jobs = simulation.run(machines, energy, lambda place, some: hear(model, found, place, some))
        return found, jobs.first

    faults = draw(named_only(model), many, seed)
    plain, first = run(faults)
    wrong, slipped = one_replaced(model, faults, first, seed)
    strangers, _ = run(draw(strangers_only(model), many, seed + 1))
    return Alarms(plain=plain, misled=run(wrong)[0], slipped=slipped, strangers=strangers)


def named_only(model: IsolationModel) -> IsolationModel:
    """The model without something else: what named faults are drawn from."""
    raw = (*model.prior[:-1], 0.0)
    return replace(model, prior=tuple(weight / sum(raw) for weight in raw))


def strangers_only(model: IsolationModel) -> IsolationModel:
    """The model with something else for sure."""
    return replace(model, prior=(*(0.0 for _ in model.prior[:-1]), 1.0))


def another(model: IsolationModel, rng: np.random.Generator, check: int, said: int) -> int:
    """Any other outcome of a check."""
    return int(rng.choice([o for o in range(len(model.checks[check].outcomes)) if o != said]))


def one_replaced(model: IsolationModel, faults: Faults, at: dict[Place, Ints], seed: int) -> tuple[Faults, Ints]:
    """The same machines with one of the answers that a job has at its place replaced, and which check (-1: none)."""
    rng = np.random.default_rng([seed, 3])
    answer = faults.answer.copy()
    slipped = np.full(faults.many, -1, dtype=np.intp)
    for place, jobs in at.items():
        given = [index for index, said in enumerate(place.at.answers) if said is not None]
        if not given:
            continue
        for job, index in zip(jobs.tolist(), rng.choice(given, size=len(jobs)).tolist(), strict=True):
            answer[job, index] = another(model, rng, index, int(answer[job, index]))
            slipped[job] = index
    return replace(faults, answer=answer), slipped


# --- answers only, heard once they are all there --------------------------------------------------------------------------------


def answered_all(model: IsolationModel, energy: Energy, many: int, seed: int = 19) -> Alarms:
    """Every check of the model is answered before anything is repaired."""
    return _answers_only(model, in_turn(model), energy, many, seed)


def answered_eight(model: IsolationModel, energy: Energy, many: int, seed: int) -> Alarms:
    """Eight answers, each next check the one that tells most per minute."""
    return _answers_only(model, most_telling(model, EIGHT), energy, many, seed)


def in_turn(model: IsolationModel) -> Policy:
    """All checks in the author's order, then nothing."""

    def policy(places: Sequence[Place]) -> list[Work]:
        left = [next((c for c, shut in zip(model.checks, p.at.closed, strict=True) if not shut), None) for p in places]
        return [HandOver() if c is None else do_check(model, c, p) for c, p in zip(left, places, strict=True)]

    return policy


def most_telling(model: IsolationModel, answers: int) -> Policy:
    """Most bits per minute until so many are answered or none tells, then nothing."""

    def policy(places: Sequence[Place]) -> list[Work]:
        rates = bits_a_minute(model, places, beliefs_of(model, places)[0])
        return [
            do_check(model, model.checks[int(np.argmax(rate))], place)
            if rate.max(initial=0.0) > 0.0 and sum(answer is not None for answer in place.at.answers) < answers
            else HandOver()
            for place, rate in zip(places, rates, strict=True)
        ]

    return policy


def _answers_only(model: IsolationModel, policy: Policy, energy: Energy, many: int, seed: int) -> Alarms:
    simulation = Simulation(model, policy)

    def run(machines: Machines) -> tuple[Heard, dict[Place, Ints]]:
        ends: list[tuple[Place, Ints]] = []
        last = np.zeros(machines.many, dtype=np.intp)

        def watch(place: Place, jobs: Ints) -> None:
            last[jobs] = len(ends)
            ends.append((place, jobs))

        simulation.run(machines, energy, watch)
        found = silence(machines.many)
        at = {place: jobs[last[jobs] == i] for i, (place, jobs) in enumerate(ends) if (last[jobs] == i).any()}
        for place, jobs in at.items():
            hear(model, found, place, jobs)
        return found, at

    faults = draw(named_only(model), many, seed)
    plain, at = run(faults)
    wrong, slipped = one_replaced(model, faults, at, seed)
    strangers, _ = run(draw(strangers_only(model), many, seed + 1))
    return Alarms(plain=plain, misled=run(wrong)[0], slipped=slipped, strangers=strangers)


def _eight_of(seed: int, many: int) -> Alarms:
    causes, checks, repairs = SIZE
    size = Size(causes=causes, checks=checks, repairs=repairs, family=FAMILIES[seed % 4])
    model, energy = generate(EIGHT_SEED + seed, size)
    return answered_eight(model, energy, many, seed)


def eight_answers(models: int, many: int) -> Alarms:
    """The population that the alarm was designed on: generated models, noisy words, eight answers by information a minute."""
    with ProcessPoolExecutor(PROCESSES, initializer=threadpool_limits, initargs=(1,)) as pool:
        return together(list(pool.map(_eight_of, range(models), [many] * models)))


# --- the table -----------------------------------------------------------------------------------------------------------------


def alarm_table(title: str, found: Alarms) -> Iterable[str]:
    """The rates with their intervals."""

    def line(name: str, part: Flags | int, whole: int) -> str:
        count = int(np.sum(part))
        low, high = wilson(count, whole) if whole else (0.0, 1.0)
        return f"  {name:66} {count / max(whole, 1):6.1%} ({low:.1%} to {high:.1%}) of {whole}"

    plain, misled, slips = found.plain, found.misled, found.slips
    sessions, wrong, caught = len(plain.slip), int(slips.sum()), int(found.caught.sum())
    else_plain, else_misled = plain.strange > STRANGE, (misled.strange > STRANGE) & slips
    strange = found.strangers.alarm | (found.strangers.strange > STRANGE)
    least, share = found.caught_at()
    yield f"what does not fit, {title}"
    yield line("a named cause, all as stated: alarm (false)", plain.alarm, sessions)
    yield line("a named cause, all as stated: something else named (false)", else_plain, sessions)
    yield line("a named cause, all as stated: either (false)", plain.alarm | else_plain, sessions)
    yield line("one answer replaced: alarm (true)", caught, wrong)
    yield line("one answer replaced: something else named", else_misled, wrong)
    yield line("one answer replaced: either (true)", found.caught | else_misled, wrong)
    noticed = found.caught | else_misled
    opened = misled.surprised & slips
    yield line("one answer replaced: either, or a surprising proof opens answers", noticed | opened, wrong)
    yield line("of the alarms, the first answer to look at again is the one", found.right(1), caught)
    yield line("of the alarms, it is among the first two", found.right(2), caught)
    yield line("none of the causes: alarm or something else named (true)", strange, len(strange))
    yield f"  {'area under the operating curve':66} {found.area:6.3f}"
    yield f"  {f'caught where false alarms are {PUBLISHED_FALSE:.1%} (a slip likelier than {least:.2f})':66} {share:6.1%}"


def wilson(part: int, whole: int) -> tuple[float, float]:
    """95 % score interval of a share (Wilson 1927; formula from memory)."""
    z, p = 1.96, part / whole
    middle = (p + z * z / (2 * whole)) / (1 + z * z / whole)
    half = z / (1 + z * z / whole) * float(np.sqrt(p * (1 - p) / whole + z * z / (4 * whole * whole)))
    return middle - half, middle + half
