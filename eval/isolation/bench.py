"""The bench of fault isolation: bars against the exact optimum, calibration, and every authored fault model simulated."""

from __future__ import annotations

import time
from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

import numpy as np
from threadpoolctl import threadpool_limits

from assistant.domain.entries import FaultModel
from assistant.domain.isolation import EnergyLadder, IsolationModel
from assistant.domain.knowledge import KnowledgeBase
from assistant.domain.terms import Energy
from assistant.isolation.compilation import compile_model, ladder_of
from assistant.isolation.lookahead import Search
from assistant.isolation.policy import Isolator
from eval.isolation.bars import (
    PROCESSES,
    Bar,
    decision_ms,
    interval,
    large_bars,
    large_results,
    large_table,
    small_bars,
    small_results,
    small_table,
)
from eval.isolation.calibration import calibration_bars, calibration_table, measure
from eval.isolation.orders import (
    by_energy,
    fixed_order,
    information_gain,
    known_cause_minutes,
    most_likely_first,
    printed_table,
)
from eval.isolation.simulation import Simulation, draw
from eval.isolation.tree import Policy, policy_of

START = Energy.STOPPED
"""Where a job starts: the machine has stopped on its fault."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Amount:
    """How much is measured."""

    faults: int = 3_000
    calibration_faults: int = 10_000
    instances: int = 300
    large_models: int = 4
    large_faults: int = 150
    calibration_models: int = 8


def isolation_bench(faults: Sequence[FaultModel], ladders: dict[str, EnergyLadder], amount: Amount) -> int:
    """Print everything; 1 when a bar is missed."""
    begun = time.perf_counter()
    bars: list[Bar] = []
    small = small_results(amount.instances)
    show(small_table(small))
    bars += small_bars(small)
    large = large_results(amount.large_models, amount.large_faults)
    show(large_table(large))
    ms = decision_ms(2, 8)
    print(
        f"decisions at that size: {len(ms)}, mean {ms.mean():.1f} ms, 95th {np.quantile(ms, 0.95):.1f}, most {ms.max():.1f}"
    )
    bars += large_bars(large, ms)
    cases = measure(amount.calibration_faults // amount.calibration_models, amount.calibration_models, Search(depth=1))
    show(calibration_table(cases))
    bars += calibration_bars(cases)
    show(authored_table(faults, ladders, amount.faults))
    print("bars")
    show(map(str, bars))
    print(f"{time.perf_counter() - begun:.0f} s")
    return 0 if all(bar.met for bar in bars) else 1


def show(lines: Iterable[str]) -> None:
    """Print as they come."""
    for line in lines:
        print(line, flush=True)


def with_outcomes(knowledge: KnowledgeBase) -> tuple[list[FaultModel], dict[str, EnergyLadder]]:
    """Fault models whose checks have outcomes, and the ladder of each machine."""
    ready = [f for f in knowledge.faults if f.proof and f.repairs and all(len(c.outcomes) > 1 for c in f.checks)]
    return ready, {machine.pack: ladder_of(machine.values) for machine in knowledge.machines}


DEARER = "  dearer than a fixed order"
AuthoredRow = tuple[str, int, dict[str, tuple[float, float, float]], float]


def measure_authored(model: IsolationModel, many: int) -> AuthoredRow:
    """Mean and interval of every policy on one authored model, and the floor of a known cause."""
    faults = draw(model, many, 1)
    policies: dict[str, tuple[Policy, bool]] = {
        "printed": (printed_table(model), False),
        "fixed": (fixed_order(model, range(len(model.checks))), False),
        "by energy": (fixed_order(model, by_energy(model)), False),
        "likeliest": (most_likely_first(model), False),
        "bits/min": (information_gain(model), False),
        "ours": (policy_of(Isolator(model)), True),
    }
    found = {}
    for name, (policy, restart) in policies.items():
        minutes = Simulation(model, policy, restart=restart).run(faults, START).minutes
        found[name] = (float(minutes.mean()), *interval(minutes))
    known = float(known_cause_minutes(model, START)[faults.cause].mean())
    return model.id, len(model.checks), found, known


def authored_table(faults: Sequence[FaultModel], ladders: dict[str, EnergyLadder], many: int) -> Iterable[str]:
    """One line a fault model: minutes of each policy with half of the 95 % interval."""
    yield f"authored fault models with outcomes: {len(faults)}, {many} simulated faults each, start {START}"
    if not faults:
        return
    models = [compile_model(fault, ladders.get(fault.pack, EnergyLadder())) for fault in faults]
    with ProcessPoolExecutor(PROCESSES, initializer=threadpool_limits, initargs=(1,)) as pool:
        rows = list(pool.map(measure_authored, models, [many] * len(models)))
    names = list(rows[0][2])
    yield f"  {'fault':44} {'checks':>6}" + "".join(f"{name:>14}" for name in names) + f"{'known':>8} {'saved':>7}"
    for name, checks, found, known in rows:
        cells = "".join(f"{mean:8.1f} ±{(high - low) / 2:4.1f}" for mean, low, high in found.values())
        fixed = min(found["fixed"][0], found["by energy"][0])
        share = (fixed - found["ours"][0]) / (fixed - known) if fixed > known else 1.0
        yield f"  {name:44} {checks:6d}{cells}{known:8.1f} {share:7.2f}" + (DEARER if share < 0 else "")
    total = {name: float(np.mean([row[2][name][0] for row in rows])) for name in names}
    floor = float(np.mean([row[3] for row in rows]))
    yield f"  {'mean of models':44} {'':6}" + "".join(f"{total[name]:8.1f}      " for name in names) + f"{floor:8.1f}"
    dearer = [name for name, _, found, _ in rows if found["ours"][0] > min(found["fixed"][0], found["by energy"][0])]
    yield f"  dearer than the better fixed order: {len(dearer)} of {len(rows)}" + "".join(
        f", {name}" for name in dearer
    )
