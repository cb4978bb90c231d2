"""The authored fault models by simulation: every order, the floor, calibration, wrong tables, two faults, alarms."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

import numpy as np
from threadpoolctl import threadpool_limits

from assistant.domain.entries import FaultModel
from assistant.domain.isolation import EnergyLadder, IsolationModel
from assistant.domain.terms import Energy
from assistant.isolation.compilation import compile_model
from assistant.isolation.contradiction import SLIP
from assistant.isolation.policy import Isolator
from eval.isolation.alarms import Alarms, answered_all, guided
from eval.isolation.bars import PROCESSES, Bar, Floats, interval
from eval.isolation.calibration import LOG_SPREAD, SPREAD, Calibration, calibration, joined, other_cells, other_weights
from eval.isolation.orders import (
    by_energy,
    fixed_order,
    information_gain,
    known_cause_minutes,
    most_likely_first,
    printed_table,
)
from eval.isolation.retakes import RetakeCost, retake_cost
from eval.isolation.simulation import Simulation, draw
from eval.isolation.tree import Policy, policy_of
from eval.isolation.two_faults import TwoFaultCost, two_fault_cost

START = Energy.STOPPED
"""Where a job starts: the machine has stopped on its fault."""
TRUTHS = 3
"""Other truths drawn around each model."""
MOST_PAIRS = 2_000
"""Sessions a model with two faults, with a wrong answer, with none of the causes: each needs decisions of its own."""
OURS = "ours"
KEPT = "no restart"
"""Ours with all answers kept after a surprising proof, as the fixed orders do: the restart is for two faults, one pays for it."""
FIXED = ("fixed", "by energy")
WRONG = (f"likelihoods wrong, Dirichlet {SPREAD:g}", f"weights wrong, log-normal {LOG_SPREAD:g}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Authored:
    """One model: paired minutes (F,) of every policy and of a known cause, and what else is measured of ours.

    `wrong` has, for each way to be wrong, paired minutes of believing the authored figures and of knowing the truth.
    """

    name: str
    checks: int
    minutes: dict[str, Floats]
    known: Floats
    calibration: Calibration
    wrong: dict[str, tuple[Floats, Floats]]
    two: TwoFaultCost
    alarms: Alarms
    answered_all: Alarms
    retakes: RetakeCost
    hands_over_at_once: bool

    @property
    def fixed(self) -> Floats:
        """The better fixed order."""
        return min((self.minutes[name] for name in FIXED), key=lambda minutes: float(minutes.mean()))


def measure_authored(model: IsolationModel, many: int) -> Authored:
    """One model; every policy meets the same faults."""
    faults = draw(model, many, 1)
    policies: dict[str, Policy] = {
        "printed": printed_table(model),
        "fixed": fixed_order(model, range(len(model.checks))),
        "by energy": fixed_order(model, by_energy(model)),
        "likeliest": most_likely_first(model),
        "bits/min": information_gain(model),
    }
    minutes = {name: Simulation(model, policy).run(faults, START).minutes for name, policy in policies.items()}
    policy = policy_of(Isolator(model))
    minutes[KEPT] = Simulation(model, policy).run(faults, START).minutes
    believing = Simulation(model, policy, restart=True)
    ours = believing.run(faults, START)
    minutes[OURS] = ours.minutes
    return Authored(
        name=model.id,
        checks=sum(check.offered for check in model.checks),
        minutes=minutes,
        known=known_cause_minutes(model, START)[faults.cause],
        calibration=calibration(model, ours, faults),
        wrong=measure_wrong(model, believing, many),
        two=two_fault_cost(model, min(many, MOST_PAIRS), START),
        alarms=guided(model, believing, START, min(many, MOST_PAIRS)),
        answered_all=answered_all(model, START, max(2, min(many, MOST_PAIRS) // 4)),
        retakes=retake_cost(model, believing, START, min(many, MOST_PAIRS)),
        hands_over_at_once=not ours.first and bool(ours.handed_over.all()),
    )


def measure_wrong(model: IsolationModel, believing: Simulation, many: int) -> dict[str, tuple[Floats, Floats]]:
    """Truths drawn around the model: the policy that believes the authored figures, and the one that knows the truth."""
    found: dict[str, tuple[Floats, Floats]] = {}
    for name, other in zip(WRONG, (other_cells, other_weights), strict=True):
        pairs = []
        for seed in range(TRUTHS):
            truth = other(model, seed)
            faults = draw(truth, max(2, many // TRUTHS), 30 + seed)
            knowing = Simulation(truth, policy_of(Isolator(truth)), restart=True)
            pairs.append((believing.run(faults, START).minutes, knowing.run(faults, START).minutes))
        found[name] = np.concatenate([one for one, _ in pairs]), np.concatenate([other for _, other in pairs])
    return found


def authored_results(faults: Sequence[FaultModel], ladders: dict[str, EnergyLadder], many: int) -> list[Authored]:
    """All models, two at a time."""
    models = [compile_model(fault, ladders.get(fault.pack, EnergyLadder())) for fault in faults]
    with ProcessPoolExecutor(PROCESSES, initializer=threadpool_limits, initargs=(1,)) as pool:
        return list(pool.map(measure_authored, models, [many] * len(models)))


def cell(minutes: Floats) -> str:
    """Mean and half of its 95 % interval."""
    low, high = interval(minutes)
    return f"{minutes.mean():8.1f} ±{(high - low) / 2:4.1f}"


def authored_table(results: Sequence[Authored]) -> Iterable[str]:
    """One line a fault model: minutes of each policy with half of the 95 % interval, and the paired saving."""
    names = list(results[0].minutes)
    yield f"authored fault models: {len(results)}, {len(results[0].known)} simulated faults each, start {START}; minutes"
    yield (
        f"  {'fault':40} {'checks':>6}"
        + "".join(f"{name:>14}" for name in (*names, "known", "ours - fixed"))
        + f" {'saved':>6}"
    )
    for row in results:
        cells = "".join(cell(row.minutes[name]) for name in names)
        gap = float(row.fixed.mean() - row.known.mean())
        share = float(row.fixed.mean() - row.minutes[OURS].mean()) / gap if gap > 0 else 1.0
        yield f"  {row.name:40} {row.checks:6d}{cells}{cell(row.known)}{cell(row.minutes[OURS] - row.fixed)} {share:6.2f}"
    whole = {name: np.concatenate([row.minutes[name] for row in results]) for name in names}
    known, fixed = np.concatenate([row.known for row in results]), np.concatenate([row.fixed for row in results])
    cells = "".join(cell(minutes) for minutes in whole.values())
    share = float((fixed - whole[OURS]).mean() / (fixed - known).mean())
    yield f"  {'all models':40} {'':6}{cells}{cell(known)}{cell(whole[OURS] - fixed)} {share:6.2f}"
    for name, said in ((KEPT, "all answers kept"), (OURS, "with the restart")):
        dearer = [row.name for row in results if row.minutes[name].mean() > row.fixed.mean()]
        yield f"  dearer than the better fixed order, {said}: {len(dearer)} of {len(results)}" + "".join(
            f", {n}" for n in dearer
        )


def wrong_table(results: Sequence[Authored]) -> Iterable[str]:
    """Minutes lost by believing the authored figures when the truth is another."""
    yield f"authored figures wrong: {TRUTHS} other truths a model; minutes of believing the authored figures and of knowing"
    yield f"  {'what is wrong':36} {'believing':>14} {'knowing':>14} {'lost':>14} {'lost':>7} {'worst model':>12}"
    for name in WRONG:
        believing, knowing = _wrong(results, name)
        each = {row.name: row.wrong[name][0].mean() / row.wrong[name][1].mean() - 1 for row in results}
        worst = max(each, key=lambda model: each[model])
        yield (
            f"  {name:36} {cell(believing)} {cell(knowing)} {cell(believing - knowing)}"
            f" {believing.mean() / knowing.mean() - 1:7.1%} {each[worst]:7.1%} {worst}"
        )


def _wrong(results: Sequence[Authored], name: str) -> tuple[Floats, Floats]:
    return (
        np.concatenate([row.wrong[name][0] for row in results]),
        np.concatenate([row.wrong[name][1] for row in results]),
    )


def two_fault_table(results: Sequence[Authored]) -> Iterable[str]:
    """Pairs of faults, with the restart after a surprising proof and without."""
    restart = np.concatenate([row.two.restart for row in results])
    keeping = np.concatenate([row.two.keeping for row in results])
    handed = np.concatenate([row.two.restart_handed for row in results]).mean()
    handed_keeping = np.concatenate([row.two.keeping_handed for row in results]).mean()
    yield f"two faults at once: {len(results)} authored models, {len(results[0].two.restart)} pairs each; minutes, handed over"
    yield f"  {'restart after a surprising proof':36} {cell(restart)} {handed:7.1%}"
    yield f"  {'all answers kept':36} {cell(keeping)} {handed_keeping:7.1%}"
    yield f"  {'saved by the restart, paired':36} {cell(keeping - restart)} {1 - restart.mean() / keeping.mean():7.1%}"


def retake_table(results: Sequence[Authored]) -> Iterable[str]:
    """What heeding the alarm costs and saves where answers are wrong as often as it supposes."""
    heeded = np.concatenate([row.retakes.heeded.minutes for row in results])
    unheeded = np.concatenate([row.retakes.unheeded.minutes for row in results])
    rung = np.concatenate([row.retakes.heeded.alarms for row in results])
    handed = np.concatenate([row.retakes.heeded.handed_over for row in results]).mean()
    handed_unheeded = np.concatenate([row.retakes.unheeded.handed_over for row in results]).mean()
    yield f"every answer wrong with chance {SLIP:g}, authored models, {len(heeded)} jobs; minutes, handed over"
    yield f"  {'the suspect of an alarm is taken again':40} {cell(heeded)} {handed:7.1%}"
    yield f"  {'nobody looks back':40} {cell(unheeded)} {handed_unheeded:7.1%}"
    yield f"  {'saved by looking again, paired':40} {cell(unheeded - heeded)} {1 - heeded.mean() / unheeded.mean():7.1%}"
    yield f"  jobs in which an alarm rang: {(rung > 0).mean():.1%}"


def _worst(results: Sequence[Authored], name: str, said: str) -> Bar:
    """The model that comes out worst against its better fixed order."""
    worst = max(results, key=lambda row: row.minutes[name].mean() / row.fixed.mean())
    ratio = float(worst.minutes[name].mean() / worst.fixed.mean())
    return Bar(
        name=f"authored, {said}: worst over the fixed order ({worst.name.rpartition('/')[2]})", value=ratio, most=1.0
    )


def pooled_calibration(results: Sequence[Authored]) -> Calibration:
    """All models together; those that hand over before any repair have no job in it."""
    return joined(row.calibration for row in results)


def authored_bars(results: Sequence[Authored]) -> list[Bar]:
    """What every authored model is held to."""
    own = pooled_calibration(results)
    wrong = {name: _wrong(results, name) for name in WRONG}
    return [
        _worst(results, KEPT, "all answers kept"),
        _worst(results, OURS, "with the restart"),
        Bar(
            name="authored: models that begin by handing over",
            value=float(sum(row.hands_over_at_once for row in results)),
            most=0.0,
        ),
        Bar(name="authored: calibration error under the model", value=own.error, most=0.015),
        Bar(name="authored: Spiegelhalter's |Z|", value=abs(own.spiegelhalter_z), most=3.3),
        *(
            Bar(name=f"authored, {name}: over knowing", value=float(one.mean() / other.mean()), most=1.06)
            for name, (one, other) in wrong.items()
        ),
    ]
