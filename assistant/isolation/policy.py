"""Where a session stands -> what to do next at least expected minutes."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from assistant.domain.fault_log import (
    ChangeState,
    Decision,
    DoCheck,
    DoRepair,
    Event,
    Finish,
    HandOver,
    Option,
    Prove,
    Work,
)
from assistant.domain.isolation import LADDER, IsolationModel, depth
from assistant.domain.terms import Energy
from assistant.errors import IsolationError
from assistant.isolation.lookahead import BATCH_ROWS, DEFAULT, Lookahead, Positions, Search, Values
from assistant.isolation.progress import Progress, cure_chance, posterior, progress, survival
from assistant.isolation.proof import passes_left, planned_cost
from assistant.isolation.repair_plan import Plans
from assistant.isolation.tables import Floats, tables_of

TIE_MINUTES = 1e-6
"""Two values this close are equal: checks that will both be needed commute, and differ by rounding only."""
NEAR_MINUTES = 1.0
"""A choice this close is the technician's."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Progress and declared energy state: all that a decision depends on."""

    at: Progress
    energy: Energy


class Isolator:
    """The policy over one model.

    Raises:
        IsolationError: the model cannot be reasoned with.

    """

    def __init__(self, model: IsolationModel, search: Search = DEFAULT, allowed: Iterable[Energy] = LADDER) -> None:
        """`allowed` are the states that may be declared here; what needs another is not offered, the proof always is."""
        self.model = model
        self.search = search
        self.allowed = frozenset(allowed)
        if not self.allowed <= set(LADDER):
            raise IsolationError(f"{sorted(self.allowed)} are no energy states", f"some of {', '.join(LADDER)}")
        self._proof = planned_cost(model)
        self.tables = tables_of(restricted(model, self.allowed), self._proof.uncured, self._proof.cured)
        self._look = Lookahead(self.tables, search)
        self._shut = [not self.allowed & set(check.states) for check in model.checks]
        self._barred = [not self.allowed & set(repair.states) for repair in model.repairs]

    def decide(self, log: Iterable[Event], energy: Energy) -> Decision:
        """What to do next in a session.

        Raises:
            IsolationError: the log does not fit the model.

        """
        return self.decide_many([Place(at=progress(self.model, log), energy=energy)])[0]

    def decide_many(self, places: Sequence[Place]) -> tuple[Decision, ...]:
        """The same for many places of this model at once."""
        decisions: list[Decision] = [self._finish()] * len(places)
        groups: dict[tuple[int, int, int], list[int]] = {}
        for i, place in enumerate(places):
            if not self.finished(place.at):
                groups.setdefault((len(place.at.unproved), *self._effort(place.at)), []).append(i)
        for (count, steps, size), group in groups.items():
            for some in (group[k : k + size] for k in range(0, len(group), size)):
                batch = [places[i] for i in some]
                decided = self._unproved(batch, count, steps) if count else self._fresh(batch, steps)
                for i, decision in zip(some, decided, strict=True):
                    decisions[i] = decision
        return tuple(decisions)

    def _effort(self, at: Progress) -> tuple[int, int]:
        """Steps to look ahead, and places to work on at once."""
        checks = sum(not (closed or shut) for closed, shut in zip(at.closed, self._shut, strict=True))
        repairs = sum(spare and not barred for spare, barred in zip(at.spare, self._barred, strict=True))
        depth = self._look.depth_for(checks, repairs)
        return depth, max(1, int(BATCH_ROWS // self._look.rows(depth, checks, repairs)))

    def finished(self, at: Progress) -> bool:
        """Whether the proof has passed often enough."""
        return at.passes > 0 and (not at.unproved or passes_left(self.model, at) == 0)

    def _positions(self, places: Sequence[Place]) -> Positions:
        m, r = len(self.model.checks), len(self.model.repairs)
        closed = np.array([place.at.closed for place in places], dtype=bool).reshape(len(places), m)
        spare = np.array([place.at.spare for place in places], dtype=bool).reshape(len(places), r)
        return Positions(
            belief=np.array([posterior(self.model, place.at) for place in places]),
            open=~closed & ~np.array(self._shut, dtype=bool),
            spare=spare & ~np.array(self._barred, dtype=bool),
            energy=np.array([depth(place.energy) for place in places], dtype=np.intp),
        )

    def _fresh(self, places: Sequence[Place], depth: int) -> list[Decision]:
        """No repair waits for its proof."""
        at = self._positions(places)
        values = self._look.values(at, depth)
        return [
            self._decision(place, self._options(values, i, place), self._whole(values.plan.cost[i]))
            for i, place in enumerate(places)
        ]

    def _options(self, values: Values, row: int, place: Place) -> list[Option]:
        """Every action valued, in the author's order."""
        t, model = self.tables, self.model
        options = []
        for pair in np.flatnonzero(np.isfinite(values.check[row])):
            check, state = model.checks[t.check_at[pair]], LADDER[t.check_state[pair]]
            options.append(
                self._option(DoCheck(check=check.id, energy=state), place, values.check[row, pair], check.minutes)
            )
        repairs = {
            DoRepair(repair=model.repairs[t.repair_at[pair]].id, energy=LADDER[t.repair_state[pair]]): float(
                values.repair[row, pair]
            )
            for pair in np.flatnonzero(np.isfinite(values.repair[row]))
        }
        first = self._first_of(values.plan, row, place)
        if first is not None:
            repairs[first] = min(float(values.plan.more[row]), repairs.get(first, np.inf))
        for work, value in repairs.items():
            options.append(self._option(work, place, value, float(t.repair_minutes[model.repair_index(work.repair)])))
        options.append(Option(action=HandOver(), minutes_left=model.hand_over, own_minutes=model.hand_over))
        return options

    def _option(self, work: DoCheck | DoRepair, place: Place, value: float, minutes: float) -> Option:
        return Option(
            action=work,
            minutes_left=self._whole(value),
            own_minutes=minutes + self.model.ladder.minutes(place.energy, work.energy),
        )

    def _whole(self, minutes: float) -> float:
        """Planned minutes with what the last proof takes beyond one that fails."""
        return float(minutes) + self.tables.proved_extra

    def _first_of(self, plan: Plans, row: int, place: Place) -> DoRepair | None:
        """The repair of the plan's first block to begin with: on the way down, then on the way up."""
        block = plan.order[row, : plan.block[row]]
        if not len(block) or plan.more[row] >= plan.cost[row] + TIE_MINUTES:
            return None
        here = depth(place.energy)

        def turn(repair: int) -> tuple[bool, int]:
            need = int(self.tables.repair_need[repair])
            return need < here, need if need >= here else -need

        repair = self.model.repairs[min(block, key=turn)]
        home = depth(self.model.proof_energy)
        nearest = [e for e in repair.states if e in self.allowed]
        travel = self.tables.travel
        state = min(nearest, key=lambda e: (travel[here, depth(e)] + travel[depth(e), home], travel[here, depth(e)]))
        return DoRepair(repair=repair.id, energy=state)

    def _unproved(self, places: Sequence[Place], count: int, depth: int) -> list[Decision]:
        """Prove now, or the plan's next repair; no check, its answer could speak of a cured machine."""
        at = self._positions(places)
        alive = np.array([survival(self.model, place.at.unproved) for place in places])
        proof, plan = self._look.pending(at, at.belief * alive, count, depth)
        plan = replace(plan, cost=plan.more)
        return [self._prove_or_go_on(place, float(proof[i]), plan, i) for i, place in enumerate(places)]

    def _prove_or_go_on(self, place: Place, proof: float, plan: Plans, row: int) -> Decision:
        model = self.model
        passes = passes_left(model, place.at)
        # the belief in this cure may ask for more or fewer passes than were planned
        longer = cure_chance(model, place.at) * (passes * model.proof_minutes - self._proof.cured)
        options = [
            Option(
                action=Prove(energy=model.proof_energy, passes=passes),
                minutes_left=self._whole(proof + longer),
                own_minutes=model.ladder.minutes(place.energy, model.proof_energy) + passes * model.proof_minutes,
            )
        ]
        alone = place.at.passes or any(model.repairs[index].destroys for index in place.at.unproved)
        following = None if alone else self._first_of(plan, row, place)
        if following is not None and plan.more[row] < model.hand_over:
            minutes = float(self.tables.repair_minutes[model.repair_index(following.repair)])
            options.append(self._option(following, place, float(plan.more[row]), minutes))
        return self._decision(place, options, options[0].minutes_left)

    def _decision(self, place: Place, options: list[Option], repair_minutes: float) -> Decision:
        """The least, ties broken by no change of state, fewer minutes, author's order."""
        least = min(option.minutes_left for option in options)
        order = {option.action: i for i, option in enumerate(options)}

        def rank(option: Option) -> tuple[bool, float, int]:
            state = getattr(option.action, "energy", place.energy)
            return depth(state) != depth(place.energy), round(option.own_minutes, 6), order[option.action]

        tied = sorted((o for o in options if o.minutes_left <= least + TIE_MINUTES), key=rank)
        rest = sorted((o for o in options if o not in tied), key=lambda o: (round(o.minutes_left, 6), *rank(o)))
        best = tied[0]
        return Decision(
            action=best.action,
            step=self._step(place.energy, best.action),
            minutes_left=best.minutes_left,
            own_minutes=best.own_minutes,
            repair_minutes=repair_minutes,
            options=(*tied, *rest),
            ties=tuple(option.action for option in tied),
            near=tuple(o.action for o in (*tied, *rest) if o.minutes_left < least + NEAR_MINUTES),
        )

    def _step(self, energy: Energy, work: Work) -> Work | ChangeState:
        """The change of state that the action needs first, declared states only."""
        wanted = getattr(work, "energy", energy)
        if wanted is energy:
            return work
        return ChangeState(start=energy, end=wanted, minutes=self.model.ladder.minutes(energy, wanted))

    def _finish(self) -> Decision:
        return Decision(action=Finish(), step=Finish(), minutes_left=0.0, own_minutes=0.0, repair_minutes=0.0)


def restricted(model: IsolationModel, allowed: frozenset[Energy]) -> IsolationModel:
    """The model with allowed states only; what has none keeps its own, the policy shuts it."""

    def some(states: tuple[Energy, ...]) -> tuple[Energy, ...]:
        return tuple(state for state in states if state in allowed) or states

    return replace(
        model,
        checks=tuple(replace(check, states=some(check.states)) for check in model.checks),
        repairs=tuple(replace(repair, states=some(repair.states)) for repair in model.repairs),
    )


def belief(model: IsolationModel, log: Iterable[Event]) -> dict[str, float]:
    """Belief in each cause after a log, summing to one.

    Raises:
        IsolationError: the log does not fit the model, or no cause fits the log.

    """
    values: Floats = posterior(model, progress(model, log))
    return dict(zip(model.causes, values.tolist(), strict=True))
