"""Seeded models -> how close the policy comes to the optimum, how fast it decides, and the bars for both."""

from __future__ import annotations

import time
from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from threadpoolctl import threadpool_limits

from assistant.domain.fault_log import Work
from assistant.domain.isolation import IsolationModel
from assistant.domain.terms import Energy
from assistant.isolation.lookahead import Search
from assistant.isolation.policy import Isolator, Place
from assistant.isolation.progress import start
from eval.isolation.generator import Size, generate, small_size
from eval.isolation.optimum import MOST_STATES, Optimum, table_size
from eval.isolation.orders import by_energy, by_minutes, fixed_order, information_gain, known_cause_minutes
from eval.isolation.simulation import Simulation, draw
from eval.isolation.tree import Policy, expected_minutes, policy_of

Floats = npt.NDArray[np.float64]
FIRST_SEED = 300_001
PROCESSES = 2
LARGE = Size(causes=60, checks=80, repairs=35, family="mixed", large=True)
ONE_STEP = Search(depth=1)
OURS, ONE, GAIN, FIXED = "ours", "one step", "information gain at 0.80", "fixed order by energy state"


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """A measure, its value, and the bar: at most `most`, at least `least`."""

    name: str
    value: float
    most: float = np.inf
    least: float = -np.inf

    @property
    def met(self) -> bool:
        """Whether the bar is met."""
        return bool(self.least <= self.value <= self.most)

    def __str__(self) -> str:
        """One line of the table."""
        bar = f"at most {self.most:g}" if np.isfinite(self.most) else f"at least {self.least:g}"
        return f"  {'met ' if self.met else 'MISS'} {self.name:62} {self.value:9.4f}   bar {bar}"


@dataclass(frozen=True, slots=True, kw_only=True)
class SmallResult:
    """Exact expected minutes on one model: the optimum and each policy by name, and the floor of a known cause."""

    seed: int
    optimum: float
    known: float
    minutes: dict[str, float]


def small_seeds(many: int) -> tuple[int, ...]:
    """The first seeds whose table is small enough."""
    seeds: list[int] = []
    seed = FIRST_SEED
    while len(seeds) < many:
        if table_size(generate(seed, small_size(seed))[0]) <= MOST_STATES:
            seeds.append(seed)
        seed += 1
    return tuple(seeds)


def measure_small(seed: int) -> SmallResult:
    """One model solved and every policy followed exactly."""
    model, energy = generate(seed, small_size(seed))
    return measure_exact(seed, model, energy, Optimum(model).minutes(energy))


def measure_exact(seed: int, model: IsolationModel, energy: Energy, optimum: float) -> SmallResult:
    """Every policy followed exactly on a model whose optimum is known."""
    policies: dict[str, Policy] = {
        OURS: policy_of(Isolator(model)),
        "two steps and no further": policy_of(Isolator(model, Search(rows=0))),
        ONE: policy_of(Isolator(model, ONE_STEP)),
        GAIN: information_gain(model),
        FIXED: fixed_order(model, by_energy(model)),
    }
    return SmallResult(
        seed=seed,
        optimum=optimum,
        known=float(known_cause_minutes(model, energy) @ np.array(model.prior)),
        minutes={name: expected_minutes(model, policy, energy) for name, policy in policies.items()},
    )


def small_results(many: int) -> list[SmallResult]:
    """Several, two at a time."""
    with ProcessPoolExecutor(PROCESSES, initializer=threadpool_limits, initargs=(1,)) as pool:
        return list(pool.map(measure_small, small_seeds(many), chunksize=4))


def small_table(results: Sequence[SmallResult], title: str = "small models") -> Iterable[str]:
    """Ratio to the optimum of every policy."""
    yield f"{title}, solved exactly: {len(results)}, seeds from {results[0].seed}; minutes relative to the optimum"
    yield f"  {'policy':30} {'mean':>7} {'95 % interval':>17} {'median':>7} {'p95':>7} {'worst':>7} {'<= 1.05':>8} {'saved share':>11} {'95 % interval':>16}"
    for name in results[0].minutes:
        ratio = ratios(results, name)
        low, high = bootstrap(ratio, np.ones(len(ratio)))
        less, more = bootstrap(*saved(results, name))
        yield (
            f"  {name:30} {ratio.mean():7.4f} {low:8.4f} - {high:6.4f} {np.median(ratio):7.4f}"
            f" {np.quantile(ratio, 0.95):7.4f} {ratio.max():7.4f} {(ratio <= 1.05).mean():8.1%}"
            f" {saved_share(results, name):11.3f} {less:7.3f} - {more:6.3f}"
        )
    known = np.mean([r.known / r.optimum for r in results])
    yield f"  {'cause known (nobody can reach)':30} {known:7.4f}"


def ratios(results: Sequence[SmallResult], name: str) -> Floats:
    """Minutes of a policy over the optimum."""
    return np.array([result.minutes[name] / result.optimum for result in results])


def saved(results: Sequence[SmallResult], name: str) -> tuple[Floats, Floats]:
    """What the policy saves against the fixed order, and what the optimum saves, model by model."""
    return (
        np.array([result.minutes[FIXED] - result.minutes[name] for result in results]),
        np.array([result.minutes[FIXED] - result.optimum for result in results]),
    )


def saved_share(results: Sequence[SmallResult], name: str) -> float:
    """Sum of what the policy saves over the sum of what the optimum saves."""
    ours, most = saved(results, name)
    return float(ours.sum() / most.sum())


def bootstrap(above: Floats, below: Floats, rounds: int = 2_000) -> tuple[float, float]:
    """95 % percentile interval of sum(above) / sum(below) over models drawn anew; the draws are seeded."""
    chosen = np.random.default_rng(7).integers(len(above), size=(rounds, len(above)))
    low, high = np.quantile(above[chosen].sum(axis=1) / below[chosen].sum(axis=1), [0.025, 0.975])
    return float(low), float(high)


def small_bars(results: Sequence[SmallResult]) -> list[Bar]:
    """The bars of the small models."""
    ratio = ratios(results, OURS)
    below = min(minutes - r.optimum for r in results for minutes in r.minutes.values())
    return [
        Bar(name="small models: mean ratio to the optimum", value=float(ratio.mean()), most=1.01),
        Bar(name="small models: 95th percentile of the ratio", value=float(np.quantile(ratio, 0.95)), most=1.03),
        Bar(name="small models: worst ratio", value=float(ratio.max()), most=1.10),
        Bar(name="small models: share within 1.05", value=float((ratio <= 1.05).mean()), least=0.98),
        Bar(name="no policy below the optimum (least minutes above it)", value=below, least=-1e-6),
        Bar(name="saved share of what can be saved", value=saved_share(results, OURS), least=0.97),
    ]


def decision_ms(models: int, jobs: int) -> Floats:
    """Milliseconds of every decision at 60 causes, 80 checks, 35 repairs, one thread, processor time.

    Processor time, because the cores may be shared while this is measured; a decision waits for nothing.
    """
    spent: list[float] = []

    def timed(policy: Policy) -> Policy:
        def decide(places: Sequence[Place]) -> list[Work]:
            begun = time.process_time()
            decided = policy(places)
            spent.append((time.process_time() - begun) * 1000.0)
            return decided

        return decide

    with threadpool_limits(1):
        for seed in range(models):
            model, energy = generate(seed, LARGE)
            policy = policy_of(Isolator(model))
            policy([Place(at=start(model), energy=energy)])
            for job in range(jobs):
                Simulation(model, timed(policy)).run(draw(model, 1, 1000 * seed + job), energy)
    return np.array(spent)


@dataclass(frozen=True, slots=True, kw_only=True)
class LargeResult:
    """Paired minutes (F,) of each policy on one large model, and those of a known cause."""

    seed: int
    minutes: dict[str, Floats]
    known: float


def measure_large(seed: int, many: int) -> LargeResult:
    """One large model simulated."""
    model, energy = generate(seed, LARGE)
    faults = draw(model, many, seed)
    policies: dict[str, Policy] = {
        OURS: policy_of(Isolator(model)),
        ONE: policy_of(Isolator(model, ONE_STEP)),
        GAIN: information_gain(model),
        FIXED: fixed_order(model, by_energy(model)),
        "fixed order, cheapest first": fixed_order(model, by_minutes(model)),
    }
    return LargeResult(
        seed=seed,
        minutes={name: Simulation(model, policy).run(faults, energy).minutes for name, policy in policies.items()},
        known=float(known_cause_minutes(model, energy)[faults.cause].mean()),
    )


def large_results(models: int, many: int) -> list[LargeResult]:
    """Several, two at a time."""
    with ProcessPoolExecutor(PROCESSES, initializer=threadpool_limits, initargs=(1,)) as pool:
        return list(pool.map(measure_large, range(models), [many] * models))


def large_table(results: Sequence[LargeResult]) -> Iterable[str]:
    """Mean minutes with their interval, and the paired difference to ours."""
    jobs = sum(len(result.minutes[OURS]) for result in results)
    yield f"large models, 60 causes, 80 checks, 35 repairs: {len(results)}, {jobs} jobs, paired"
    yield f"  {'policy':34} {'minutes':>8} {'95 % interval':>18} {'dearer than ours':>26}"
    ours = np.concatenate([result.minutes[OURS] for result in results])
    for name in results[0].minutes:
        minutes = np.concatenate([result.minutes[name] for result in results])
        (low, high), (less, more) = interval(minutes), interval(minutes - ours)
        yield (
            f"  {name:34} {minutes.mean():8.1f} {low:9.1f} - {high:6.1f} {(minutes - ours).mean():12.1f} ({less:.1f} to {more:.1f})"
        )
    yield f"  {'cause known (nobody can reach it)':34} {np.mean([r.known for r in results]):8.1f}"
    each = [result.minutes[OURS].mean() / result.minutes[ONE].mean() for result in results]
    yield f"  ours over one step, model by model: {', '.join(f'{ratio:.3f}' for ratio in each)}"


def interval(values: Floats) -> tuple[float, float]:
    """95 % interval of a mean, normal approximation."""
    half = 1.96 * float(values.std(ddof=1)) / len(values) ** 0.5
    return float(values.mean()) - half, float(values.mean()) + half


def large_bars(results: Sequence[LargeResult], ms: Floats) -> list[Bar]:
    """The bars of the large models and of time."""
    mean = {name: float(np.mean([r.minutes[name].mean() for r in results])) for name in results[0].minutes}
    known = float(np.mean([r.known for r in results]))
    worst = max(float(r.minutes[OURS].mean() / r.minutes[ONE].mean()) for r in results)
    fixed = min(minutes for name, minutes in mean.items() if name.startswith("fixed"))
    return [
        Bar(name="large models: cheaper than the best fixed order", value=1 - mean[OURS] / fixed, least=0.40),
        Bar(name="large models: cheaper than one step", value=1 - mean[OURS] / mean[ONE], least=0.03),
        Bar(name="large models: worst model over one step", value=worst, most=1.01),
        Bar(
            name="large models: saved share down to a known cause",
            value=(fixed - mean[OURS]) / (fixed - known),
            least=0.75,
        ),
        Bar(name="milliseconds a decision, 95th percentile", value=float(np.quantile(ms, 0.95)), most=50.0),
    ]
