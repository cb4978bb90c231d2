"""Simulated jobs -> whether the stated beliefs come true, and what wrong tables or weights cost."""

from __future__ import annotations

from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from threadpoolctl import threadpool_limits

from assistant.domain.isolation import IsolationCheck, IsolationModel
from assistant.domain.terms import Energy
from assistant.isolation.lookahead import Search
from assistant.isolation.policy import Isolator
from assistant.isolation.progress import posterior
from eval.isolation.bars import PROCESSES, Bar
from eval.isolation.generator import FAMILIES, Size, generate
from eval.isolation.simulation import Faults, Jobs, Simulation, draw
from eval.isolation.tree import policy_of

Floats = npt.NDArray[np.float64]
BINS = 10
SPREAD = 12.0
"""Concentration of the Beta that true cells are drawn from around the believed ones: wide."""
LOG_SPREAD = 0.7
"""Standard deviation of the log-normal factor on true weights."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibration:
    """Stated chance of the top cause at the first repair (F,), whether it was right (F,), Brier score over all causes (F,)."""

    stated: Floats
    right: Floats
    brier: Floats

    @property
    def error(self) -> float:
        """Expected calibration error, ten bins of equal width."""
        return sum(weight * abs(gap) for weight, gap, _ in self.bins())

    @property
    def spiegelhalter_z(self) -> float:
        """Sum (o - p)(1 - 2p) / sqrt(sum (1 - 2p)^2 p (1 - p)); about standard normal when the beliefs are right."""
        p, o = self.stated, self.right
        spread = ((1 - 2 * p) ** 2 * p * (1 - p)).sum()
        return float(((o - p) * (1 - 2 * p)).sum() / np.sqrt(spread)) if spread > 0 else 0.0

    def bins(self) -> list[tuple[float, float, float]]:
        """Share of the jobs, observed minus stated, and standard error of each bin that is not empty."""
        at = np.minimum((self.stated * BINS).astype(int), BINS - 1)
        found = []
        for index in range(BINS):
            p, o = self.stated[at == index], self.right[at == index]
            if len(p):
                found.append(
                    (len(p) / len(at), float(o.mean() - p.mean()), float(np.sqrt((p * (1 - p)).sum())) / len(p))
                )
        return found

    @property
    def worst_bin(self) -> float:
        """Largest gap of a bin beyond three standard errors; below zero when all are within."""
        return max(abs(gap) - 3 * error for _, gap, error in self.bins())


def calibration(model: IsolationModel, jobs: Jobs, faults: Faults) -> Calibration:
    """Beliefs at the first repair of each job that came to one."""
    stated, right, brier = [], [], []
    for place, some in jobs.first.items():
        belief = posterior(model, place.at)
        top = int(np.argmax(belief))
        for cause in faults.cause[some].tolist():
            stated.append(float(belief[top]))
            right.append(float(cause == top))
            brier.append(float((belief**2).sum() - 2 * belief[cause] + 1))
    return Calibration(stated=np.array(stated), right=np.array(right), brier=np.array(brier))


def joined(parts: Iterable[Calibration]) -> Calibration:
    """Several models together."""
    some = list(parts)
    return Calibration(
        stated=np.concatenate([c.stated for c in some]),
        right=np.concatenate([c.right for c in some]),
        brier=np.concatenate([c.brier for c in some]),
    )


def other_cells(model: IsolationModel, seed: int, spread: float = SPREAD) -> IsolationModel:
    """A truth whose likelihoods are drawn around the believed ones, Dirichlet per column."""
    rng = np.random.default_rng([seed, 12])

    def check(some: IsolationCheck) -> IsolationCheck:
        table = np.array(some.likelihood)
        drawn = np.array([rng.dirichlet(np.maximum(column, 0.02) * spread) for column in table.T]).T
        drawn /= drawn.sum(axis=0)
        return replace(some, likelihood=tuple(tuple(row) for row in drawn.tolist()))

    return replace(model, checks=tuple(check(some) for some in model.checks))


def other_weights(model: IsolationModel, seed: int, spread: float = LOG_SPREAD) -> IsolationModel:
    """A truth whose weights differ by a log-normal factor."""
    rng = np.random.default_rng([seed, 13])
    raw = np.array(model.prior) * np.exp(rng.normal(0.0, spread, len(model.prior)))
    return replace(model, prior=tuple((raw / raw.sum()).tolist()))


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """A truth against a belief: minutes of believing it and of knowing the truth, and the calibration of the belief."""

    name: str
    minutes: float
    knowing: float
    calibration: Calibration


def measure(many: int, models: int, search: Search) -> list[Case]:
    """Models of 15 causes, 25 checks, 8 repairs; every case has its own truth, the belief stays the generator's."""
    with ProcessPoolExecutor(PROCESSES, initializer=threadpool_limits, initargs=(1,)) as pool:
        parts = list(pool.map(measure_model, range(models), [many] * models, [search] * models))
    return [
        Case(
            name=name,
            minutes=float(np.mean([part[name][0] for part in parts])),
            knowing=float(np.mean([part[name][1] for part in parts])),
            calibration=joined(part[name][2] for part in parts),
        )
        for name in parts[0]
    ]


def measure_model(seed: int, many: int, search: Search) -> dict[str, tuple[float, float, Calibration]]:
    """One model against itself, other likelihoods and other weights: minutes, minutes of knowing, calibration."""
    believed, energy = generate(500_000 + seed, Size(causes=15, checks=25, repairs=8, family=FAMILIES[seed % 4]))
    truths = {
        "the model itself": believed,
        f"likelihoods wrong, Dirichlet {SPREAD:g}": other_cells(believed, seed),
        f"weights wrong, log-normal {LOG_SPREAD:g}": other_weights(believed, seed),
    }
    return {name: _one(believed, truth, energy, many, seed, search) for name, truth in truths.items()}


def _one(
    believed: IsolationModel, truth: IsolationModel, energy: Energy, many: int, seed: int, search: Search
) -> tuple[float, float, Calibration]:
    faults = draw(truth, many, seed)
    jobs = Simulation(believed, policy_of(Isolator(believed, search))).run(faults, energy)
    found = calibration(believed, jobs, faults)
    if truth is believed:
        return float(jobs.minutes.mean()), float(jobs.minutes.mean()), found
    knowing = Simulation(truth, policy_of(Isolator(truth, search))).run(faults, energy)
    return float(jobs.minutes.mean()), float(knowing.minutes.mean()), found


def calibration_table(cases: Iterable[Case]) -> Iterable[str]:
    """One line a truth."""
    yield "calibration at the first repair, 15 causes, 25 checks, 8 repairs; minutes against knowing the truth"
    yield f"  {'truth':36} {'jobs':>6} {'minutes':>8} {'lost':>7} {'ECE':>7} {'Z':>6} {'Brier':>7}"
    for case in cases:
        c = case.calibration
        yield (
            f"  {case.name:36} {len(c.stated):6d} {case.minutes:8.1f} {case.minutes / case.knowing - 1:7.1%}"
            f" {c.error:7.4f} {c.spiegelhalter_z:6.2f} {c.brier.mean():7.3f}"
        )


def calibration_bars(cases: Iterable[Case]) -> list[Bar]:
    """Calibration under the model itself, minutes under a wrong one."""
    own, *wrong = cases
    return [
        Bar(name="calibration error under the model", value=own.calibration.error, most=0.015),
        Bar(name="Spiegelhalter's |Z| under the model", value=abs(own.calibration.spiegelhalter_z), most=3.3),
        Bar(name="worst bin beyond three standard errors", value=own.calibration.worst_bin, most=0.01),
        *(
            Bar(name=f"{case.name}: minutes over knowing", value=case.minutes / case.knowing, most=1.06)
            for case in wrong
        ),
    ]
