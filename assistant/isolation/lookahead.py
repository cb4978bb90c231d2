"""A batch of beliefs -> the value of each check, repair and proof, one or two steps ahead of the repair plan.

One step: a check costs its way, its minutes and what the plan costs after each outcome (after Heckerman, Breese and
Rommelse 1995). Two steps: for three checks of least one-step cost, three of most information per minute and three repairs,
what follows is the cheaper of the plan and another one-step look over the most promising checks.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from assistant.isolation.repair_plan import BLOCK, PICKS, Plans, RepairPlan
from assistant.isolation.tables import Flags, Floats, Ints, Tables

CANDIDATES = 3
"""Of each kind; six by cost alone were 1 % dearer on large models, all of them bought nothing more."""
INNER_CHECKS = 24
"""Checks looked at in the second step; 16 cost half a percent, all 80 bought nothing more."""
BATCH_ROWS = 6000
"""Rows worked on at once: arrays of this size stay in the cache."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Search:
    """How far to look; `depth` 0 repairs only, 1 one step, 2 two steps."""

    depth: int = 2
    candidates: int = CANDIDATES
    inner_checks: int = INNER_CHECKS
    block: int = BLOCK
    picks: int = PICKS


TWO_STEPS = Search()


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
    bits: Floats  # (S, pairs) information of each check, bits over groups of causes


@dataclass(frozen=True, slots=True, kw_only=True)
class Branches:
    """Outcomes of (position, check) pairs laid behind one another; `pair` (rows,) says whose outcome each row is."""

    pair: Ints
    weights: Floats  # (rows, n), summing over the outcomes of a pair to the belief


class Lookahead:
    """The search over one model's tables."""

    def __init__(self, tables: Tables, search: Search = TWO_STEPS) -> None:
        self._t = tables
        self._search = search
        self._plan = RepairPlan(tables, search.block, search.picks)

    def values(self, at: Positions) -> Values:
        """Value of every check and repair where no repair waits for its proof."""
        plan = self._plan.cost(self._t.grouped(at.belief), at.spare, at.energy)
        places = len(at.energy)
        check = np.full((places, len(self._t.check_at)), np.inf)
        repair, bits = np.full((places, len(self._t.repair_at)), np.inf), np.zeros_like(check)
        if self._search.depth > 0:
            check, bits = self._one_step(at)
        if self._search.depth > 1:
            check, repair = self._two_steps(at, check, bits)
        return Values(check=check, repair=repair, plan=plan, bits=bits)

    def pending(self, at: Positions, waiting: Floats, count: int) -> tuple[Floats, Plans]:
        """Proving now, and the plan that does another repair first; `waiting` (S, n) is what the unproved leave uncured."""
        t = self._t
        way = t.travel[at.energy, t.proof_state] + t.proof_minutes
        home = np.full(len(at.energy), t.proof_state, dtype=np.intp)
        after = Positions(belief=waiting, open=at.open, spare=at.spare, energy=home)
        leaf = self._leaf(after, at.open if self._search.depth else np.zeros_like(at.open))
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

    def _two_steps(self, at: Positions, check: Floats, bits: Floats) -> tuple[Floats, Floats]:
        """The same for the closest candidates; checks that are none keep their one-step value."""
        t = self._t
        own = t.travel[at.energy][:, t.check_state] + t.check_minutes[t.check_at]
        rate = np.where(np.isfinite(check), bits / np.maximum(own, 1e-9), -1.0)
        chosen = np.zeros(check.shape, dtype=bool)
        for order in (np.argsort(check, axis=1, kind="stable"), np.argsort(-rate, axis=1, kind="stable")):
            np.put_along_axis(chosen, order[:, : self._search.candidates], True, axis=1)
        chosen &= np.isfinite(check)
        inner = self._inner_checks(at, check)
        row, pair = np.nonzero(chosen)
        value = check.copy()
        if len(row):
            value[row, pair] = np.minimum(value[row, pair], self._check_twice(at, inner, row, pair))
        return value, self._repairs_twice(at, inner)

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

    def _check_twice(self, at: Positions, inner: Flags, row: Ints, pair: Ints) -> Floats:
        """Two-step value of (position, pair)."""
        t = self._t
        check, state = t.check_at[pair], t.check_state[pair]
        branches = self._branches(at.belief[row], check)
        still, look = at.open[row], inner[row]
        still[np.arange(len(row)), check] = look[np.arange(len(row)), check] = False
        whose = branches.pair
        after = Positions(belief=branches.weights, open=still[whose], spare=at.spare[row[whose]], energy=state[whose])
        own = t.travel[at.energy[row], state] + t.check_minutes[check]
        value: Floats = own * at.belief[row].sum(axis=1) + np.bincount(whose, self._leaf(after, look[whose]), len(row))
        return value

    def _leaf(self, at: Positions, look: Flags) -> Floats:
        """The cheaper of the plan and the best single check of `look` (S, m), each in the state reached in fewest minutes."""
        t = self._t
        least = self._plan.cost(t.grouped(at.belief), at.spare, at.energy).cost
        mass = at.belief.sum(axis=1)
        # a check that costs more than knowing the cause for sure would save cannot be the cheaper: exact, and most go
        could_save = least - at.belief @ t.floor
        row, check = np.nonzero(look & (t.check_own[at.energy] * mass[:, None] < could_save[:, None]))
        if not len(row):
            return least
        state = t.check_nearest[at.energy[row], check]
        branches = self._branches(at.belief[row], check)
        whose = branches.pair
        cost = self._plan.cost(t.grouped(branches.weights), at.spare[row[whose]], state[whose]).cost
        own = t.check_own[at.energy[row], check] * mass[row]
        np.minimum.at(least, row, own + np.bincount(whose, cost, len(row)))
        return least

    def _repairs_twice(self, at: Positions, inner: Flags) -> Floats:
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
        prove = proof[keep] + self._leaf(after, inner[row[keep]])
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
