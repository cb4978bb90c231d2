"""A batch of beliefs -> the value of each check, repair and proof, some steps ahead of the repair plan.

One step: a check costs its way, its minutes and what the plan costs after each outcome (after Heckerman, Breese and
Rommelse 1995). Two steps: for three checks of least one-step cost, three of most information per minute and three repairs,
what follows is the cheaper of the plan and another one-step look over the most promising checks. More steps repeat that, and
are taken where the model or what is left of it is small.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from assistant.isolation.repair_plan import BLOCK, PICKS, Plans, RepairPlan
from assistant.isolation.tables import Flags, Floats, Ints, Tables

CANDIDATES = 3
"""Of each kind; six by cost alone were 1 % dearer on large models, all of them bought nothing more."""
INNER_CHECKS = 24
"""Checks looked at in the second step; 16 cost half a percent, all 80 bought nothing more."""
DEEPEST = 3
"""Most steps: on nine authored models two cost 0.8 % more than the optimum, three 0.4 %, five the same at twice the time."""
ROWS = 9000
"""Rows of the last step up to which another step is taken: about as much time as two steps at 60 causes and 80 checks."""
BATCH_ROWS = 20_000
"""Rows worked on at once: more do not fit into the cache."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Search:
    """How far to look; `depth` 0 repairs only, 1 one step, 2 two steps or more while the last step stays under `rows`."""

    depth: int = 2
    rows: int = ROWS
    candidates: int = CANDIDATES
    inner_checks: int = INNER_CHECKS
    block: int = BLOCK
    picks: int = PICKS


DEFAULT = Search()


@dataclass(frozen=True, slots=True, kw_only=True)
class Positions:
    """S positions of one session each: belief (S, n) summing to one, open checks (S, m), repairs left (S, r), state (S,)."""

    belief: Floats
    open: Flags
    spare: Flags
    energy: Ints


@dataclass(frozen=True, slots=True, kw_only=True)
class Values:
    """Expected minutes to the end: `check` (S, pairs), `repair` (S, pairs), inf where not valued; `plan` of repairs only."""

    check: Floats
    repair: Floats
    plan: Plans


@dataclass(frozen=True, slots=True, kw_only=True)
class Branches:
    """Outcomes of (position, check) pairs laid behind one another; `pair` (rows,) says whose outcome each row is."""

    pair: Ints
    weights: Floats  # (rows, n), summing over the outcomes of a pair to the belief


class Lookahead:
    """The search over one model's tables."""

    def __init__(self, tables: Tables, search: Search = DEFAULT) -> None:
        self._t = tables
        self._search = search
        self._plan = RepairPlan(tables, search.block, search.picks)

    def depth_for(self, checks: int, repairs: int) -> int:
        """Steps that a place with so many open checks and repairs is worth: as deep as the rows of the last step allow."""
        depth = self._search.depth
        while 1 < depth < min(DEEPEST, checks + 1) and self.rows(depth + 1, checks, repairs) <= self._search.rows:
            depth += 1
        return depth

    def rows(self, depth: int, checks: int, repairs: int) -> float:
        """Rows of the last of `depth` steps, about; one at least."""
        outcomes = float(self._t.count.mean()) if len(self._t.count) else 1.0
        rows, wide = 1.0, self._search.candidates
        for step in range(depth - 1):
            rows *= max(1.0, min(2 * wide, max(0, checks - step)) * outcomes + min(wide, repairs))
        last = checks if depth < 2 else min(self._search.inner_checks, checks - depth + 1)
        return rows * max(1, last) * outcomes

    def values(self, at: Positions, depth: int) -> Values:
        """Value of every check and repair where no repair waits for its proof."""
        plan = self._plan.cost(self._t.grouped(at.belief), at.spare, at.energy)
        places = len(at.energy)
        check = np.full((places, len(self._t.check_at)), np.inf)
        repair = np.full((places, len(self._t.repair_at)), np.inf)
        if depth > 0:
            check, bits = self._one_step(at)
        if depth > 1:
            check, repair = self._deeper(at, check, bits, depth)
        return Values(check=check, repair=repair, plan=plan)

    def pending(self, at: Positions, waiting: Floats, count: int, depth: int) -> tuple[Floats, Plans]:
        """Proving now, and the plan that does another repair first; `waiting` (S, n) is what the unproved leave uncured."""
        t = self._t
        way = t.travel[at.energy, t.proof_state] + t.proof_minutes
        home = np.full(len(at.energy), t.proof_state, dtype=np.intp)
        after = Positions(belief=waiting, open=at.open, spare=at.spare, energy=home)
        leaf = self._best(after, min(depth, max(1, depth - 1)))
        plan = self._plan.cost(t.grouped(waiting), at.spare, at.energy, at.belief.sum(axis=1), count)
        return way * at.belief.sum(axis=1) + leaf, plan

    def _branches(self, belief: Floats, check: Ints) -> Branches:
        """Outcomes of each (belief row, check)."""
        t = self._t
        count = t.count[check]
        pair = np.repeat(np.arange(len(check)), count)
        within = np.arange(len(pair)) - np.repeat(np.cumsum(count) - count, count)
        return Branches(pair=pair, weights=belief[pair] * t.likelihood[t.first[check][pair] + within])

    def _one_step(self, at: Positions) -> tuple[Floats, Floats]:
        """Value and information (bits) of every useful (check, state) pair."""
        t = self._t
        shape = (len(at.energy), len(t.check_at))
        value, bits = np.full(shape, np.inf), np.zeros(shape)
        row, pair = np.nonzero(at.open[:, t.check_at] & t.check_useful[at.energy])
        if not len(row):
            return value, bits
        state = t.check_state[pair]
        branches = self._branches(at.belief[row], t.check_at[pair])
        weights = t.grouped(branches.weights)
        cost = self._plan.cost(weights, at.spare[row[branches.pair]], state[branches.pair]).cost
        own = t.travel[at.energy[row], state] + t.check_minutes[t.check_at[pair]]
        value[row, pair] = own * at.belief[row].sum(axis=1) + np.bincount(branches.pair, cost, len(row))
        after = np.bincount(branches.pair, entropy(weights), len(row))
        bits[row, pair] = np.maximum(entropy(t.grouped(at.belief))[row] - after, 0.0)
        return value, bits

    def _deeper(self, at: Positions, check: Floats, bits: Floats, depth: int) -> tuple[Floats, Floats]:
        """The same `depth` steps ahead for the closest candidates; checks that are none keep their one-step value."""
        t = self._t
        own = t.travel[at.energy][:, t.check_state] + t.check_minutes[t.check_at]
        rate = np.where(np.isfinite(check), bits / np.maximum(own, 1e-9), -1.0)
        chosen = np.zeros(check.shape, dtype=bool)
        for order in (np.argsort(check, axis=1, kind="stable"), np.argsort(-rate, axis=1, kind="stable")):
            np.put_along_axis(chosen, order[:, : self._search.candidates], True, axis=1)
        chosen &= np.isfinite(check)
        inner = replace(at, open=self._inner_checks(at, check))
        row, pair = np.nonzero(chosen)
        value = check.copy()
        if len(row):
            value[row, pair] = np.minimum(value[row, pair], self._check_deeper(inner, row, pair, depth - 1))
        return value, self._repairs_deeper(inner, depth - 1)

    def _inner_checks(self, at: Positions, check: Floats) -> Flags:
        """The most promising checks by their one-step cost (S, m)."""
        t = self._t
        best = np.full(at.open.shape, np.inf)
        for pair, at_check in enumerate(t.check_at):
            np.minimum(best[:, at_check], check[:, pair], out=best[:, at_check])
        inner = np.zeros(at.open.shape, dtype=bool)
        order = np.argsort(best, axis=1, kind="stable")[:, : self._search.inner_checks]
        np.put_along_axis(inner, order, True, axis=1)
        found: Flags = inner & at.open
        return found

    def _check_deeper(self, at: Positions, row: Ints, pair: Ints, depth: int) -> Floats:
        """Value of (position, pair) with what follows looked at `depth` steps ahead."""
        t = self._t
        check, state = t.check_at[pair], t.check_state[pair]
        branches = self._branches(at.belief[row], check)
        still = at.open[row]
        still[np.arange(len(row)), check] = False
        whose = branches.pair
        after = Positions(belief=branches.weights, open=still[whose], spare=at.spare[row[whose]], energy=state[whose])
        own = t.travel[at.energy[row], state] + t.check_minutes[check]
        best = np.bincount(whose, self._best(after, depth), len(row))
        value: Floats = own * at.belief[row].sum(axis=1) + best
        return value

    def _best(self, at: Positions, depth: int) -> Floats:
        """The cheapest of the plan and `depth` steps of checks; beliefs need not sum to one, values are mass x minutes."""
        t = self._t
        least = self._plan.cost(t.grouped(at.belief), at.spare, at.energy).cost
        if depth < 1:
            return least
        mass = at.belief.sum(axis=1)
        # a check that costs more than knowing the cause for sure would save cannot be the cheaper: exact, and most go
        could_save = least - at.belief @ t.floor
        worth = at.open & (t.check_own[at.energy] * mass[:, None] < could_save[:, None])
        if depth < 2:
            return self._nearest(at, worth, least)
        some = np.flatnonzero(worth.any(axis=1))
        if len(some):
            inner = Positions(belief=at.belief[some], open=worth[some], spare=at.spare[some], energy=at.energy[some])
            check, bits = self._one_step(inner)
            check, repair = self._deeper(inner, check, bits, depth)
            both = np.concatenate([check, repair], axis=1)
            least[some] = np.minimum(least[some], both.min(axis=1, initial=np.inf))
        return least

    def _nearest(self, at: Positions, worth: Flags, least: Floats) -> Floats:
        """The cheaper of `least` and the best single check of `worth`, each in the state reached in fewest minutes."""
        t = self._t
        row, check = np.nonzero(worth)
        if not len(row):
            return least
        state = t.check_nearest[at.energy[row], check]
        branches = self._branches(at.belief[row], check)
        whose = branches.pair
        cost = self._plan.cost(t.grouped(branches.weights), at.spare[row[whose]], state[whose]).cost
        own = t.check_own[at.energy[row], check] * at.belief.sum(axis=1)[row]
        np.minimum.at(least, row, own + np.bincount(whose, cost, len(row)))
        return least

    def _repairs_deeper(self, at: Positions, depth: int) -> Floats:
        """Value of the repairs that are cheapest when proved at once: prove and look again, or another repair first."""
        t = self._t
        value = np.full((len(at.energy), len(t.repair_at)), np.inf)
        row, pair = np.nonzero(at.spare[:, t.repair_at] & t.repair_useful[at.energy])
        if not len(row):
            return value
        repair, state = t.repair_at[pair], t.repair_state[pair]
        rest = at.belief[row] * (1.0 - t.cures[repair])
        spare = at.spare[row]
        spare[np.arange(len(row)), repair] = False
        home = np.full(len(row), t.proof_state, dtype=np.intp)
        mass = at.belief[row].sum(axis=1)
        own = (t.travel[at.energy[row], state] + t.repair_minutes[repair]) * mass
        proof = (t.travel[state, t.proof_state] + t.proof_minutes) * mass
        value[row, pair] = own + proof + self._plan.cost(t.grouped(rest), spare, home).cost
        value[row[rest.sum(axis=1) >= mass], pair[rest.sum(axis=1) >= mass]] = np.inf
        order = np.argsort(value, axis=1, kind="stable")[:, : self._search.candidates]
        chosen = np.zeros(value.shape, dtype=bool)
        np.put_along_axis(chosen, order, True, axis=1)
        keep = np.flatnonzero(chosen[row, pair] & np.isfinite(value[row, pair]))
        value[...] = np.inf
        after = Positions(belief=rest[keep], open=at.open[row[keep]], spare=spare[keep], energy=home[keep])
        prove = proof[keep] + self._best(after, depth)
        block = self._plan.cost(t.grouped(rest[keep]), spare[keep], state[keep], mass[keep], 1).more
        block = np.where(t.destroys[repair[keep]], np.inf, block)
        value[row[keep], pair[keep]] = own[keep] + np.minimum(prove, block)
        return value


def entropy(weights: Floats) -> Floats:
    """Entropy in bits of each row (rows, g), times the row's mass: sums over outcomes are then expectations."""
    mass = weights.sum(axis=1)
    logs = np.log2(weights, out=np.zeros_like(weights), where=weights > 0)
    whole = np.log2(mass, out=np.zeros_like(mass), where=mass > 0)
    total: Floats = mass * whole - (weights * logs).sum(axis=1)
    return total
