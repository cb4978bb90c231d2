"""The numeric fault model: causes, checks, repairs, proof and energy ladder as figures, checked when made."""

from __future__ import annotations

import math
from dataclasses import dataclass

from assistant.domain.terms import Energy
from assistant.errors import IsolationError

LADDER: tuple[Energy, ...] = (Energy.RUNNING, Energy.STOPPED, Energy.ISOLATED)
"""The energy states as a line, shallowest first."""
SOMETHING_ELSE = "something_else"
"""The last cause of every model: none of the named ones; no repair cures it."""
SUM_TOLERANCE = 1e-9
"""How far a column of likelihoods, or the prior, may be from one; a slip here cost 22 % of the minutes unseen."""


def depth(energy: Energy) -> int:
    """Position on the ladder; an undeclared state counts as running, the farthest from isolated."""
    return 0 if energy is Energy.UNKNOWN else LADDER.index(energy)


@dataclass(frozen=True, slots=True, kw_only=True)
class EnergyLadder:
    """Minutes of each change of energy state; changes add up along the line running - stopped - isolated.

    The defaults are from memory of what stopping, locking off and proving dead take on a machine of one cabinet.
    """

    running_stopped: float = 1.0
    stopped_running: float = 2.0
    stopped_isolated: float = 8.0
    isolated_stopped: float = 5.0

    def minutes(self, start: Energy, end: Energy) -> float:
        """Minutes from one state to another."""
        down, up = (self.running_stopped, self.stopped_isolated), (self.stopped_running, self.isolated_stopped)
        first, last = depth(start), depth(end)
        return sum(down[first:last]) if first <= last else sum(up[last:first])


@dataclass(frozen=True, slots=True, kw_only=True)
class IsolationCheck:
    """A check: `likelihood[outcome][cause]`, columns summing to one; `normal` is the index of the normal outcome.

    `dont_know` is the chance that nothing comes of it, the same under every cause. A check that is not `offered` may only be
    answered: a code that stood on the display, a word of the caller. `reading` is set where a figure is asked for.
    """

    id: str
    minutes: float
    states: tuple[Energy, ...]
    outcomes: tuple[str, ...]
    likelihood: tuple[tuple[float, ...], ...]
    normal: int = 0
    dont_know: float = 0.0
    live: bool = False
    reading: bool = False
    offered: bool = True
    tools: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class IsolationRepair:
    """A repair: `cures[cause]` chances; `price` in minutes of work; `destroys` forbids another repair before its proof."""

    id: str
    minutes: float
    states: tuple[Energy, ...]
    cures: tuple[float, ...]
    price: float = 0.0
    destroys: bool = False
    parts: tuple[str, ...] = ()
    tools: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class IsolationModel:
    """One complaint in figures; `causes` end with something else, `prior` sums to one, all costs are minutes.

    Raises:
        IsolationError: sums, lengths, ids or states that cannot be reasoned with.

    """

    id: str
    causes: tuple[str, ...]
    prior: tuple[float, ...]
    checks: tuple[IsolationCheck, ...]
    repairs: tuple[IsolationRepair, ...]
    ladder: EnergyLadder = EnergyLadder()
    proof_minutes: float = 5.0
    proof_energy: Energy = Energy.RUNNING
    passes_anyway: float = 0.0
    hand_over: float = 180.0

    def __post_init__(self) -> None:
        """Refuse what would go wrong silently."""
        if len(self.prior) != len(self.causes) or not self.causes or self.causes[-1] != SOMETHING_ELSE:
            raise self._refused("the causes and their prior do not match", f"one figure each, {SOMETHING_ELSE} last")
        if abs(math.fsum(self.prior) - 1.0) > SUM_TOLERANCE or min(self.prior) < 0:
            raise self._refused(f"the prior sums to {math.fsum(self.prior):.9f}", "make it sum to one")
        for ids in ([check.id for check in self.checks], [repair.id for repair in self.repairs], self.causes):
            if len(set(ids)) != len(ids):
                raise self._refused("an id is given twice", "ids of causes, of checks and of repairs are unique")
        if not 0.0 <= self.passes_anyway < 1.0:
            raise self._refused(f"an uncured machine passes with {self.passes_anyway}", "from 0, below 1")
        for check in self.checks:
            self._refuse_check(check)
        for repair in self.repairs:
            self._refuse_repair(repair)

    def _refuse_check(self, check: IsolationCheck) -> None:
        rows = check.likelihood
        if len(rows) != len(check.outcomes) or any(len(row) != len(self.causes) for row in rows):
            raise self._refused(f"the table of `{check.id}` has the wrong shape", "rows outcomes, columns causes")
        for cause, column in zip(self.causes, zip(*rows, strict=True), strict=True):
            if abs(math.fsum(column) - 1.0) > SUM_TOLERANCE or min(column) < 0:
                raise self._refused(
                    f"the likelihoods of `{check.id}` under `{cause}` sum to {math.fsum(column):.9f}",
                    "a column sums to one",
                )
        self._refuse_states(check.id, check.states)
        if not 0.0 <= check.dont_know < 1.0 or check.minutes < 0 or not 0 <= check.normal < len(rows):
            raise self._refused(
                f"`{check.id}` has figures out of range", "minutes from 0, dont_know below 1, normal an outcome"
            )

    def _refuse_repair(self, repair: IsolationRepair) -> None:
        if len(repair.cures) != len(self.causes) or not all(0.0 <= chance <= 1.0 for chance in repair.cures):
            raise self._refused(f"`{repair.id}` cures with figures out of range", "one chance a cause, 0 to 1")
        if repair.cures[-1] > 0.0:
            raise self._refused(f"`{repair.id}` cures {SOMETHING_ELSE}", "nothing known cures it but handing over")
        if repair.minutes + repair.price <= 0:
            raise self._refused(f"`{repair.id}` takes no time", "give its minutes")
        self._refuse_states(repair.id, repair.states)

    def _refuse_states(self, name: str, states: tuple[Energy, ...]) -> None:
        if not states or Energy.UNKNOWN in states:
            raise self._refused(f"`{name}` has no energy state", "name where on the ladder it may be done")

    def _refused(self, message: str, hint: str) -> IsolationError:
        return IsolationError(f"{self.id}: {message}", hint)

    def check_index(self, name: str) -> int:
        """Position of a check.

        Raises:
            IsolationError: no such check.

        """
        for index, check in enumerate(self.checks):
            if check.id == name:
                return index
        raise self._refused(f"no check `{name}`", f"the checks are: {', '.join(c.id for c in self.checks)}")

    def repair_index(self, name: str) -> int:
        """Position of a repair.

        Raises:
            IsolationError: no such repair.

        """
        for index, repair in enumerate(self.repairs):
            if repair.id == name:
                return index
        raise self._refused(f"no repair `{name}`", f"the repairs are: {', '.join(r.id for r in self.repairs)}")
