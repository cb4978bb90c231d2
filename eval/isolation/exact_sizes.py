"""The further sizes that are solved exactly: ten causes, checks and six repairs in full, and fifteen causes of always and never."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor

import numpy as np
from threadpoolctl import threadpool_limits

from eval.isolation.bars import OURS, PROCESSES, Bar, SmallResult, measure_exact, ratios
from eval.isolation.crisp_optimum import CrispOptimum, made_crisp
from eval.isolation.generator import FAMILIES, Size, generate
from eval.isolation.optimum import Optimum, table_size

FULL_SEED, CRISP_SEED = 410_001, 420_001
MOST_FULL_STATES = 40_000_000
"""Cells of a full table: a third of a gigabyte, some seconds."""


def _full_size(seed: int) -> Size:
    return Size(causes=10, checks=10, repairs=6, family=FAMILIES[seed % len(FAMILIES)])


def full_seeds(many: int) -> tuple[int, ...]:
    """The first seeds whose table is not too large."""
    seeds: list[int] = []
    seed = FULL_SEED
    while len(seeds) < many:
        if table_size(generate(seed, _full_size(seed))[0]) <= MOST_FULL_STATES:
            seeds.append(seed)
        seed += 1
    return tuple(seeds)


def measure_full(seed: int) -> SmallResult:
    """One model of 10 causes, 10 checks, 6 repairs."""
    model, energy = generate(seed, _full_size(seed))
    return measure_exact(seed, model, energy, Optimum(model).minutes(energy))


def measure_crisp(seed: int) -> SmallResult:
    """One model of 15 causes, 25 checks, 8 repairs, always and never only."""
    family = FAMILIES[seed % len(FAMILIES)]
    model, energy = generate(seed, Size(causes=15, checks=25, repairs=8, family=family, crisp=True))
    crisp = made_crisp(model, seed)
    return measure_exact(seed, crisp, energy, CrispOptimum(crisp).minutes(energy))


def exact_results(full: int, crisp: int) -> tuple[list[SmallResult], list[SmallResult]]:
    """Several of both, two at a time."""
    with ProcessPoolExecutor(PROCESSES, initializer=threadpool_limits, initargs=(1,)) as pool:
        whole = list(pool.map(measure_full, full_seeds(full)))
        return whole, list(pool.map(measure_crisp, range(CRISP_SEED, CRISP_SEED + crisp)))


def exact_bars(full: Sequence[SmallResult], crisp: Sequence[SmallResult]) -> list[Bar]:
    """The bars of both sizes."""
    whole, certain = ratios(full, OURS), ratios(crisp, OURS)
    below = min(minutes - r.optimum for r in (*full, *crisp) for minutes in r.minutes.values())
    return [
        Bar(name="10 x 10 x 6: mean ratio to the optimum", value=float(whole.mean()), most=1.015),
        Bar(name="10 x 10 x 6: worst ratio", value=float(whole.max()), most=1.08),
        Bar(name="15 x 25 x 8 certain: mean ratio to the optimum", value=float(certain.mean()), most=1.025),
        Bar(
            name="15 x 25 x 8 certain: 95th percentile of the ratio", value=float(np.quantile(certain, 0.95)), most=1.06
        ),
        Bar(name="no policy below the optimum at either size", value=below, least=-1e-6),
    ]
