"""Fault models -> causes and checks that nothing is learned about: what no check tells apart, and checks that tell nothing."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from assistant.domain.entries import FaultModel
from assistant.domain.likelihood import TELLING, column
from assistant.domain.panel import panel_check

Found = Iterator[tuple[tuple[str | int, ...], str, str]]
Table = dict[str, tuple[float, ...]]
ALIKE = 0.05
"""Cells closer than this tell nothing apart: the words of the author are further apart."""
LEAST_BITS = 0.005
"""A check that tells less than this at the authored weights is not worth a minute."""


def lint_telling(item: FaultModel) -> Found:
    """Causes that no outcome speaks for, pairs that no check tells apart, checks without information; sound models only."""
    weights = {cause.id: cause.weight for cause in item.causes}
    tables = [{cause: column(check, cause) for cause in weights} for check in item.checks]
    yield from _unmoved(weights, tables)
    yield from _twins(item, tables)
    for i, (check, table) in enumerate(zip(item.checks, tables, strict=True)):
        bits = information(weights, table)
        if bits < LEAST_BITS:
            yield (
                ("checks", i),
                f"`{check.id}` tells {bits:.4f} bit",
                "give its outcomes likelihoods that differ, or leave it out",
            )
    yield from _flat_codes(item, weights)


def _flat_codes(item: FaultModel, weights: dict[str, float]) -> Found:
    """A code of the panel that is as likely under one cause as under another moves nothing."""
    if not item.panel:
        return
    whole = panel_check(item.panel, tuple(weights))
    columns = {cause: column(whole, cause) for cause in weights}
    for i, shown in enumerate(item.panel):
        bits = information(weights, {cause: (cells[i], 1.0 - cells[i]) for cause, cells in columns.items()})
        if bits < LEAST_BITS:
            yield (
                ("panel", i),
                f"code {shown.code} moves nothing: it tells {bits:.4f} bit",
                "give it a likelihood that differs from cause to cause, or leave it out",
            )


def _unmoved(weights: dict[str, float], tables: Sequence[Table]) -> Found:
    """A cause that no outcome speaks for can only be found by trying its repair."""
    if len(weights) < 2:
        return
    for i, cause in enumerate(weights):
        best = max((telling(weights, table, cause) for table in tables), default=0.0)
        if best < TELLING:
            yield (
                ("causes", i),
                f"no check moves `{cause}`: its best outcome is {best:.2f} times as likely under it as under the others",
                f"write a check with an outcome at least {TELLING} times as likely under it",
            )


def telling(weights: dict[str, float], table: Table, cause: str) -> float:
    """The most that an outcome speaks for a cause: its likelihood over the weighted mean of the others'."""
    others = {name: weight for name, weight in weights.items() if name != cause}
    total = math.fsum(others.values())

    def mean(outcome: int) -> float:
        return math.fsum(weight * table[name][outcome] for name, weight in others.items()) / total

    return max(cell / mean(outcome) for outcome, cell in enumerate(table[cause]))


def _twins(item: FaultModel, tables: Sequence[Table]) -> Found:
    """Two causes that look alike in every check, cured by different repairs."""
    cured = {cause.id: {repair.id for repair in item.repairs if cause.id in repair.cures} for cause in item.causes}
    for i, cause in enumerate(item.causes):
        for other in item.causes[:i]:
            same = all(
                abs(one - two) < ALIKE
                for table in tables
                for one, two in zip(table[cause.id], table[other.id], strict=True)
            )
            if same and not cured[cause.id] & cured[other.id]:
                yield (
                    ("causes", i),
                    f"no check tells `{cause.id}` from `{other.id}`, and different repairs cure them",
                    "write a check that tells them apart, or one repair for both",
                )


def information(weights: dict[str, float], table: Table) -> float:
    """Bits that the answer tells about the named causes at their weights."""
    total = math.fsum(weights.values())
    prior = {name: weight / total for name, weight in weights.items()}
    bits = 0.0
    for outcome in range(len(next(iter(table.values())))):
        chance = math.fsum(prior[name] * table[name][outcome] for name in prior)
        bits += math.fsum(
            prior[name] * cells[outcome] * math.log2(cells[outcome] / chance)
            for name, cells in table.items()
            if cells[outcome] > 0
        )
    return bits
