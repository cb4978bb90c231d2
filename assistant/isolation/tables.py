"""A numeric fault model -> the arrays that planning works on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from assistant.domain.isolation import LADDER, IsolationModel, depth

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.intp]
Flags = npt.NDArray[np.bool_]
STATES = len(LADDER)


def frozen(values: Any, kind: type) -> npt.NDArray[Any]:
    """An array that cannot be written to."""
    array: npt.NDArray[Any] = np.array(values, dtype=kind)
    array.flags.writeable = False
    return array


@dataclass(frozen=True, slots=True, kw_only=True)
class Tables:
    """The arrays of a model; n causes, m checks, k (check, state) pairs, q (repair, state) pairs, r repairs, g cause groups.

    Outcomes of all checks lie behind one another, don't know included: those of check j are `first[j]` to
    `first[j] + count[j]`. A group is a set of causes that every repair cures alike: plans and information are over groups.
    """

    prior: Floats  # (n,)
    likelihood: Floats  # (all outcomes, n)
    first: Ints  # (m,)
    count: Ints  # (m,)
    check_minutes: Floats  # (m,)
    check_at: Ints  # (k,) check of each pair
    check_state: Ints  # (k,)
    check_useful: Flags  # (3, k) from a state: no allowed state lies nearer on the way
    check_nearest: Ints  # (3, m) the allowed state reached in fewest minutes
    check_own: Floats  # (3, m) minutes of a check done there, the way included
    floor: Floats  # (n,) minutes that a cause costs at least though it is known
    cures: Floats  # (r, n)
    group: Floats | None  # (n, g) 0/1, None when every cause is a group of its own
    group_cures: Floats  # (r, g)
    repair_minutes: Floats  # (r,) price included
    repair_at: Ints  # (q,)
    repair_state: Ints  # (q,)
    repair_useful: Flags  # (3, q)
    repair_need: Ints  # (r,) allowed state nearest to where the proof runs
    destroys: Flags  # (r,)
    travel: Floats  # (3, 3)
    tour: Floats  # (3, 3, 3) from a state, through the shallowest and the deepest state named, to the proof
    proof_state: int
    proof_minutes: float  # of a proof that fails
    proved_extra: float  # further minutes of the proof that passes: everything but handing over pays them once
    hand_over: float  # less `proved_extra`, which handing over spares

    def grouped(self, weights: Floats) -> Floats:
        """Weights (rows, n) -> (rows, g)."""
        return weights if self.group is None else weights @ self.group


def tables_of(model: IsolationModel, failing_minutes: float, passing_minutes: float) -> Tables:
    """The arrays; the minutes are those of a proof that fails and of one that passes."""
    extra = passing_minutes - failing_minutes
    travel = np.array([[model.ladder.minutes(a, b) for b in LADDER] for a in LADDER])
    home = depth(model.proof_energy)
    cures = np.array([repair.cures for repair in model.repairs]).reshape(-1, len(model.causes))
    group = _groups(cures)
    rows = [_rows(model, index) for index in range(len(model.checks))]
    count = [len(some) for some in rows]
    minutes = np.array([check.minutes for check in model.checks])
    checks = [sorted({depth(e) for e in check.states}) for check in model.checks]
    repairs = [sorted({depth(e) for e in repair.states}) for repair in model.repairs]
    nearest = [[min(some, key=lambda z: (travel[e, z], z)) for some in checks] for e in range(STATES)]
    check_at, check_state, check_useful = _pairs(checks)
    repair_at, repair_state, repair_useful = _pairs(repairs)
    return Tables(
        prior=frozen(model.prior, float),
        likelihood=frozen([row for some in rows for row in some], float).reshape(-1, len(model.causes)),
        first=frozen(np.cumsum([0, *count[:-1]])[: len(count)], int),
        count=frozen(count, int),
        check_minutes=frozen(minutes, float),
        check_at=check_at,
        check_state=check_state,
        check_useful=check_useful,
        check_nearest=frozen(nearest, int),
        check_own=frozen([travel[e, nearest[e]] + minutes for e in range(STATES)], float),
        floor=_floor(model, travel, home, failing_minutes, model.hand_over - extra),
        cures=frozen(cures, float),
        group=group,
        group_cures=frozen(cures if group is None else (cures @ group) / group.sum(axis=0), float),
        repair_minutes=frozen([repair.minutes + repair.price for repair in model.repairs], float),
        repair_at=repair_at,
        repair_state=repair_state,
        repair_useful=repair_useful,
        repair_need=frozen([min(s, key=lambda z: (travel[z, home], z)) for s in repairs], int),
        destroys=frozen([repair.destroys for repair in model.repairs], bool),
        travel=frozen(travel, float),
        tour=frozen(_tours(travel, home), float),
        proof_state=home,
        proof_minutes=failing_minutes,
        proved_extra=extra,
        hand_over=model.hand_over - extra,
    )


def _floor(model: IsolationModel, travel: Floats, home: int, proof_minutes: float, hand_over: float) -> Floats:
    """The cheapest repair of each cause, its proof and the way up to it, or handing over; never more than the true cost."""
    floor = np.full(len(model.causes), hand_over)
    for repair in model.repairs:
        up = min(travel[depth(state), home] for state in repair.states)
        least = repair.minutes + repair.price + up + proof_minutes
        floor = np.where(np.array(repair.cures) > 0.0, np.minimum(floor, least), floor)
    found: Floats = frozen(floor, float)
    return found


def _rows(model: IsolationModel, index: int) -> list[list[float]]:
    """Likelihood rows of a check, with one for don't know where that happens."""
    check = model.checks[index]
    if not check.dont_know:
        return [list(row) for row in check.likelihood]
    known = [[(1.0 - check.dont_know) * cell for cell in row] for row in check.likelihood]
    return [*known, [check.dont_know] * len(model.causes)]


def _groups(cures: Floats) -> Floats | None:
    """Indicator (n, g) of causes with equal columns of `cures`, in order of first appearance."""
    columns: dict[bytes, int] = {}
    at = [columns.setdefault(column.tobytes(), len(columns)) for column in np.ascontiguousarray(cures.T)]
    if len(columns) == len(at):
        return None
    indicator: Floats = frozen(np.eye(len(columns))[at], float)
    return indicator


def _pairs(states: list[list[int]]) -> tuple[Ints, Ints, Flags]:
    """Item and state of each pair, and from which states the pair is worth a look.

    Changes add up along the line: what may be done in a state on the way costs no more there and tells earlier.
    """
    pairs = [(item, z) for item, some in enumerate(states) for z in some]

    def useful(e: int, item: int, z: int) -> bool:
        return not any(min(e, z) <= other <= max(e, z) for other in states[item] if other != z)

    return (
        frozen([item for item, _ in pairs], int),
        frozen([z for _, z in pairs], int),
        frozen([[useful(e, *pair) for pair in pairs] for e in range(STATES)], bool).reshape(STATES, len(pairs)),
    )


def _tours(travel: Floats, home: int) -> Floats:
    """Least minutes from a state through two others to `home`."""
    tour = np.zeros((STATES, STATES, STATES))
    for e, low, high in np.ndindex(tour.shape):
        there, back = travel[e, low] + travel[low, high], travel[e, high] + travel[high, low]
        tour[e, low, high] = min(there + travel[high, home], back + travel[low, home])
    return tour
