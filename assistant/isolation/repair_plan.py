"""Beliefs -> the expected cost of repair without another check: an order of repairs, and where in it to prove.

Two orders are tried and the cheaper taken: by gain over minutes with the way there and back and the proof, and by gain over
minutes with the further descent and a quarter of the proof, which fills one isolation. Gains follow the belief from pick to
pick. Over each order a small dynamic programme places the proofs, after blocks of one to four repairs (Ottosen and Jensen,
"When To Test? Troubleshooting with Postponed System Test": that postponing the test is a problem of its own).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from assistant.isolation.tables import STATES, Flags, Floats, Ints, Tables, frozen

PICKS = 12
"""Repairs looked ahead; 8 cost 1 % more, 20 nothing less."""
BLOCK = 4
"""Most repairs before one proof."""
PROOF_SHARE = 0.25
"""Share of a proof that a repair inside a block is charged with."""
FOREVER = 1e9
"""Minutes of a repair that is none; large, and finite so that no mass times it is still nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plans:
    """Cost of each row (mass x minutes) with hand-over allowed; `more` is the cost when one repair at least comes first.

    `order` (rows, picks) is the order taken and `block` (rows,) how many of it come before the first proof in `more`.
    """

    cost: Floats
    more: Floats
    order: Ints
    block: Ints


class RepairPlan:
    """The planner of one model; `block` and `picks` bound it."""

    def __init__(self, tables: Tables, block: int = BLOCK, picks: int = PICKS) -> None:
        t = self._t = tables
        self._block = block
        self._picks = min(picks, len(t.repair_minutes))
        self._cures = np.ascontiguousarray(t.group_cures.T)
        self._keep = 1.0 - t.group_cures
        need, home = t.repair_need, t.proof_state
        both_ways = t.travel[home, need] + t.travel[need, home]
        singly = t.repair_minutes + both_ways + t.proof_minutes
        descent = [np.where(need > deep, t.travel[deep, need], 0.0) for deep in range(STATES)]
        blocked = [t.repair_minutes + some + PROOF_SHARE * t.proof_minutes for some in descent]
        # the first of two equal rates wins on every machine: later ones are held back by more than rounding
        author = 1.0 - 1e-9 * np.arange(len(need))
        self._rate = frozen(author / np.array([*blocked, singly]).reshape(STATES + 1, -1), float)
        deeper = [np.maximum(need, deep) for deep in range(STATES)]
        self._deeper = frozen([*deeper, np.full(len(need), STATES)], int).reshape(STATES + 1, -1)
        self._tour = t.tour.reshape(STATES, -1)

    def cost(self, weights: Floats, spare: Flags, energy: Ints, paid: Floats | None = None, pending: int = 0) -> Plans:
        """Plans of a batch.

        `weights` (rows, g) need not sum to one; `spare` (rows, r) repairs not done yet; `energy` (rows,) where one stands.
        With `pending` unproved repairs `weights` is what they leave uncured, and `paid` (rows,) the mass that pays for the
        first block, the cured included.
        """
        rows = len(weights)
        mass = weights.sum(axis=1) if paid is None else paid
        if not self._picks or pending >= self._block:
            never = np.full(rows, FOREVER)
            nothing = np.zeros((rows, 0), dtype=np.intp)
            return Plans(cost=self._t.hand_over * mass, more=never, order=nothing, block=np.zeros(rows, dtype=np.intp))
        order, left, minutes = self._orders(weights, spare, energy)
        first = np.concatenate([mass, mass])
        more, block = self._prove(order, left, minutes, np.concatenate([energy, energy]), first, pending)
        second = more[rows:] < more[:rows]
        more = np.where(second, more[rows:], more[:rows])
        return Plans(
            cost=np.minimum(more, self._t.hand_over * mass),
            more=more,
            order=np.where(second[:, None], order[:, rows:].T, order[:, :rows].T),
            block=np.where(second, block[rows:], block[:rows]),
        )

    def _orders(self, weights: Floats, spare: Flags, energy: Ints) -> tuple[Ints, Floats, Floats]:
        """Picks (picks, 2 rows), mass left before each and after the last, minutes of each."""
        w = np.concatenate([weights, weights])
        free = np.concatenate([spare, spare]).astype(float)
        deep = np.concatenate([np.full(len(energy), STATES, dtype=np.intp), energy])
        every = np.arange(len(w))
        order = np.empty((self._picks, len(w)), dtype=np.intp)
        left = np.empty((self._picks + 1, len(w)))
        minutes = np.empty((self._picks, len(w)))
        left[0] = w.sum(axis=1)
        for k in range(self._picks):
            gains = w @ self._cures
            gains *= free
            pick = (gains * self._rate[deep]).argmax(axis=1)
            gain = gains[every, pick]
            order[k] = pick
            minutes[k] = np.where(gain > 0.0, self._t.repair_minutes[pick], FOREVER)
            left[k + 1] = np.maximum(left[k] - gain, 0.0)
            if k + 1 < self._picks:
                deep = self._deeper[deep, pick]
                free[every, pick] = 0.0
                w *= self._keep[pick]
        return order, left, minutes

    def _prove(
        self, order: Ints, left: Floats, minutes: Floats, energy: Ints, first: Floats, pending: int
    ) -> tuple[Floats, Ints]:
        """Least cost with a block first, and the length of that block."""
        blocks = self._blocks(order, minutes)
        later = self._later(left, blocks)
        best = np.full(len(first), np.inf)
        length = np.zeros(len(first), dtype=np.intp)
        for size, (total, code) in enumerate(blocks, 1):
            if size + pending > self._block:
                break
            cost = (total[0] + self._tour[energy, code[0]]) * first + later[size]
            if pending and self._t.destroys.any():
                cost = np.where(self._t.destroys[order[:size]].any(axis=0), FOREVER, cost)
            length = np.where(cost < best, size, length)
            best = np.minimum(best, cost)
        return best, length

    def _blocks(self, order: Ints, minutes: Floats) -> list[tuple[Floats, Ints]]:
        """For each size and start (size, picks - size + 1, rows): minutes with the proof, and code of the states visited."""
        t = self._t
        low = high = t.repair_need[order]
        total = minutes
        destroyed = t.destroys[order] if t.destroys.any() else None
        blocks = [(total + t.proof_minutes, low * STATES + high)]
        for size in range(2, min(self._block, self._picks) + 1):
            last = slice(size - 1, None)
            need = t.repair_need[order[last]]
            total = total[:-1] + minutes[last]
            if destroyed is not None:
                starts = self._picks - size + 1
                some = np.any([destroyed[k : k + starts] for k in range(size)], axis=0)
                total = np.where(some, FOREVER, total)
            low, high = np.minimum(low[:-1], need), np.maximum(high[:-1], need)
            blocks.append((total + t.proof_minutes, low * STATES + high))
        return blocks

    def _later(self, left: Floats, blocks: list[tuple[Floats, Ints]]) -> Floats:
        """Cost to go (picks + 1, rows) after a failed proof with the first k repairs of the order done."""
        home = self._tour[self._t.proof_state]
        whole = [(total + home[code]) * left[: len(total)] for total, code in blocks]
        later = self._t.hand_over * left
        for k in range(self._picks - 1, -1, -1):
            for size, cost in enumerate(whole, 1):
                if k + size <= self._picks:
                    np.minimum(later[k], cost[k] + later[k + size], out=later[k])
        return later
