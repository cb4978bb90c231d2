"""The bench of fault isolation: bars against the exact optimum, calibration, and every authored fault model simulated."""

from __future__ import annotations

import time
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from assistant.domain.entries import FaultModel
from assistant.domain.isolation import EnergyLadder
from assistant.domain.knowledge import KnowledgeBase
from assistant.isolation.compilation import ladder_of
from assistant.isolation.lookahead import Search
from eval.isolation.alarms import alarm_table, eight_answers, together
from eval.isolation.authored import (
    authored_bars,
    authored_results,
    authored_table,
    pooled_calibration,
    retake_table,
    two_fault_table,
    wrong_table,
)
from eval.isolation.bars import (
    Bar,
    decision_ms,
    large_bars,
    large_results,
    large_table,
    small_bars,
    small_results,
    small_table,
)
from eval.isolation.calibration import calibration_bars, calibration_table, measure
from eval.isolation.exact_sizes import exact_bars, exact_results
from eval.isolation.reliability import reliability_svg, reliability_table


@dataclass(frozen=True, slots=True, kw_only=True)
class Amount:
    """How much is measured."""

    faults: int = 10_000
    calibration_faults: int = 10_000
    instances: int = 300
    full: int = 20
    crisp: int = 80
    large_models: int = 4
    large_faults: int = 150
    calibration_models: int = 8
    eight_models: int = 20
    eight_jobs: int = 150


def isolation_bench(
    faults: Sequence[FaultModel], ladders: dict[str, EnergyLadder], amount: Amount, plot: Path | None = None
) -> int:
    """Print everything, the reliability plot into `plot`; 1 when a bar is missed."""
    begun = time.perf_counter()
    bars = [*exact(amount), *large(amount), *beliefs(amount)]
    if faults:
        bars += authored(faults, ladders, amount, plot)
    print("bars")
    show(map(str, bars))
    print(f"{time.perf_counter() - begun:.0f} s")
    return 0 if all(bar.met for bar in bars) else 1


def exact(amount: Amount) -> list[Bar]:
    """Models with a known optimum, in three sizes."""
    small = small_results(amount.instances)
    show(small_table(small))
    full, crisp = exact_results(amount.full, amount.crisp)
    show(small_table(full, "10 causes, 10 checks, 6 repairs"))
    show(small_table(crisp, "15 causes, 25 checks, 8 repairs, always and never only"))
    return [*small_bars(small), *exact_bars(full, crisp)]


def large(amount: Amount) -> list[Bar]:
    """Sixty causes: paired minutes, and the time of a decision."""
    results = large_results(amount.large_models, amount.large_faults)
    show(large_table(results))
    ms = decision_ms(2, 8)
    print(
        f"decisions at that size: {len(ms)}, mean {ms.mean():.1f} ms, 95th {np.quantile(ms, 0.95):.1f}, most {ms.max():.1f}"
    )
    return large_bars(results, ms)


def beliefs(amount: Amount) -> list[Bar]:
    """Whether stated chances come true on generated models."""
    cases = measure(amount.calibration_faults // amount.calibration_models, amount.calibration_models, Search(depth=1))
    show(calibration_table(cases))
    eight = eight_answers(amount.eight_models, amount.eight_jobs)
    title = "generated models of 15 causes, 25 checks, 8 repairs, eight answers by bits a minute"
    show(alarm_table(title, eight))
    return calibration_bars(cases)


def authored(
    faults: Sequence[FaultModel], ladders: dict[str, EnergyLadder], amount: Amount, plot: Path | None
) -> list[Bar]:
    """The fault models of the packs."""
    results = authored_results(faults, ladders, amount.faults)
    own = pooled_calibration(results)
    show(authored_table(results))
    show(reliability_table("authored models", own))
    brier = 1.96 * own.brier.std(ddof=1) / len(own.brier) ** 0.5
    print(f"  error {own.error:.4f}, Z {own.spiegelhalter_z:.2f}, Brier {own.brier.mean():.3f} ±{brier:.3f}")
    show(wrong_table(results))
    show(two_fault_table(results))
    show(alarm_table("authored models, guided sessions", together([row.alarms for row in results])))
    everything = together([row.answered_all for row in results])
    show(alarm_table("authored models, every check answered before a repair", everything))
    show(retake_table(results))
    if plot is not None:
        plot.write_text(reliability_svg("Stated and observed, authored fault models", [("all models", own)]), "utf-8")
    return authored_bars(results)


def show(lines: Iterable[str]) -> None:
    """Print as they come."""
    for line in lines:
        print(line, flush=True)


def with_outcomes(knowledge: KnowledgeBase) -> tuple[list[FaultModel], dict[str, EnergyLadder]]:
    """Fault models whose checks have outcomes, and the ladder of each machine."""
    ready = [f for f in knowledge.faults if f.proof and f.repairs and all(len(c.outcomes) > 1 for c in f.checks)]
    return ready, {machine.pack: ladder_of(machine.values) for machine in knowledge.machines}
