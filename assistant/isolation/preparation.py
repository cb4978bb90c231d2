"""Beliefs about a complaint -> what to bring, how long it will take, and what to ask the caller now."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from assistant.domain.fault_log import Event
from assistant.domain.isolation import IsolationCheck, IsolationModel, IsolationRepair
from assistant.domain.terms import Energy
from assistant.isolation.lookahead import entropy
from assistant.isolation.policy import Isolator
from assistant.isolation.progress import Progress, posterior, progress
from assistant.isolation.prospect import LEAST_CHANCE, prospect

TARGET = 0.9
"""Chance of finishing in one visit that is packed for."""
QUESTIONS = 3
LEAST_BITS = 0.05
"""A question that tells less is not asked."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Complaint:
    """A fault that the call may be about, the belief in that, and what is known of it already."""

    isolator: Isolator
    chance: float
    log: tuple[Event, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """A part, tool or meter: `finish_lost` of the chance of finishing in one visit without it, chance that a check wants it."""

    name: str
    burden: float
    finish_lost: float
    wanted: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """A check that the caller can answer, and the information it gives in bits."""

    complaint: str
    check: str
    bits: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Preparation:
    """What to bring and what stays, the chance of finishing with it and with everything, the minutes, the questions.

    `finish_lost` of an item that stays is what bringing it would add.
    """

    bring: tuple[Item, ...]
    leave: tuple[Item, ...]
    chance: float
    chance_with_all: float
    minutes: float
    low_minutes: float
    high_minutes: float
    questions: tuple[Question, ...]


def prepare(
    complaints: Sequence[Complaint],
    burdens: Mapping[str, float] | None = None,
    target: float = TARGET,
    energy: Energy = Energy.RUNNING,
    least_chance: float = LEAST_CHANCE,
) -> Preparation:
    """The lightest set found that reaches `target`, or all that helps where nothing does.

    `burdens` give the price or weight of an item on any scale, 1 where nothing is said. A repair can be done when all its
    parts and tools are there. The tool of a check is brought when the policy wants it with a chance above 1 - target.

    Raises:
        IsolationError: a log does not fit its model.
        ValueError: no complaints, or beliefs that are not above zero.

    """
    total = sum(complaint.chance for complaint in complaints)
    if not complaints or total <= 0 or min(complaint.chance for complaint in complaints) < 0:
        raise ValueError("give one complaint at least, each with a belief of 0 or more")
    shares = [complaint.chance / total for complaint in complaints]
    burden = {name: (burdens or {}).get(name, 1.0) for name in items_of(complaints)}
    finish = _Finish(complaints, shares)
    prospects = [prospect(c.isolator, c.log, energy, least_chance) for c in complaints]
    wanted = dict.fromkeys(burden, 0.0)
    for complaint, share, found in zip(complaints, shares, prospects, strict=True):
        for check in complaint.isolator.model.checks:
            for tool in check.tools:
                wanted[tool] = min(1.0, wanted[tool] + share * found.wanted.get(check.id, 0.0))
    meters = frozenset(name for name, chance in wanted.items() if chance > 1.0 - target)
    bring = pack(finish, burden, target, meters)
    order = sorted(burden, key=lambda name: (burden[name], name))

    def item(name: str) -> Item:
        lost = finish.chance(bring | {name}) - finish.chance(bring - {name})
        return Item(name=name, burden=burden[name], finish_lost=lost, wanted=wanted[name])

    return Preparation(
        bring=tuple(item(name) for name in order if name in bring),
        leave=tuple(item(name) for name in order if name not in bring),
        chance=finish.chance(bring),
        chance_with_all=finish.chance(frozenset(burden)),
        minutes=sum(s * p.minutes for s, p in zip(shares, prospects, strict=True)),
        low_minutes=min(p.low_minutes for p in prospects),
        high_minutes=max(p.high_minutes for p in prospects),
        questions=questions(complaints, shares),
    )


def items_of(complaints: Iterable[Complaint]) -> tuple[str, ...]:
    """All parts and tools of repairs and checks, by name."""
    names: set[str] = set()
    for complaint in complaints:
        for repair in complaint.isolator.model.repairs:
            names |= {*repair.parts, *repair.tools}
        for check in complaint.isolator.model.checks:
            names |= set(check.tools)
    return tuple(sorted(names))


class _Finish:
    """Chance of finishing in one visit with a set of items."""

    def __init__(self, complaints: Sequence[Complaint], shares: Sequence[float]) -> None:
        self._parts: list[tuple[float, IsolationModel, Progress, list[float]]] = []
        for complaint, share in zip(complaints, shares, strict=True):
            at = progress(complaint.isolator.model, complaint.log)
            belief = posterior(complaint.isolator.model, at).tolist()
            self._parts.append((share, complaint.isolator.model, at, belief))
        self._known: dict[frozenset[str], float] = {}

    def repairs(self) -> list[frozenset[str]]:
        """What each repair that is left needs."""
        return sorted({needs(r) for _, model, at, _ in self._parts for r in left(model, at)}, key=sorted)

    def chance(self, items: frozenset[str]) -> float:
        """Belief that one of the repairs that can be done cures."""
        if items not in self._known:
            total = 0.0
            for share, model, at, belief in self._parts:
                uncured = np.array(belief)
                for repair in left(model, at):
                    if needs(repair) <= items:
                        uncured = uncured * (1.0 - np.array(repair.cures))
                total += share * (1.0 - float(uncured.sum()))
            self._known[items] = total
        return self._known[items]


def needs(repair: IsolationRepair) -> frozenset[str]:
    """Parts and tools of a repair."""
    return frozenset({*repair.parts, *repair.tools})


def left(model: IsolationModel, at: Progress) -> list[IsolationRepair]:
    """Repairs not done yet."""
    return [repair for repair, spare in zip(model.repairs, at.spare, strict=True) if spare]


def pack(
    finish: _Finish, burden: Mapping[str, float], target: float, carried: frozenset[str] = frozenset()
) -> frozenset[str]:
    """Greedy by chance gained over burden, a repair's items together; then the heaviest that are not needed go out again."""
    bring = carried
    while finish.chance(bring) < target - 1e-12:
        best: tuple[float, float, list[str]] | None = None
        for wanted in finish.repairs():
            missing = sorted(wanted - bring)
            gain = finish.chance(bring | wanted) - finish.chance(bring)
            if not missing or gain <= 1e-12:
                continue
            weight = sum(burden[name] for name in missing)
            rate = -gain / weight if weight > 0 else -np.inf
            best = min(best or (np.inf, np.inf, []), (rate, weight, missing))
        if best is None:
            break
        bring |= set(best[2])
    reached = min(target, finish.chance(bring))
    for name in sorted(bring - carried, key=lambda name: (-burden[name], name)):
        if finish.chance(bring - {name}) >= reached - 1e-12:
            bring -= {name}
    return bring


def questions(complaints: Sequence[Complaint], shares: Sequence[float]) -> tuple[Question, ...]:
    """Checks that the caller can answer without tools or opening anything, by information over groups of causes."""
    found = []
    for complaint, share in zip(complaints, shares, strict=True):
        isolator = complaint.isolator
        at = progress(isolator.model, complaint.log)
        belief = posterior(isolator.model, at)[None, :]
        before = float(entropy(isolator.tables.grouped(belief))[0])
        for index, check in enumerate(isolator.model.checks):
            if at.closed[index] or not by_caller(check):
                continue
            after = entropy(isolator.tables.grouped(belief * np.array(check.likelihood))).sum()
            bits = share * (1.0 - check.dont_know) * max(0.0, before - float(after))
            if bits >= LEAST_BITS:
                found.append(Question(complaint=isolator.model.id, check=check.id, bits=bits))
    return tuple(sorted(found, key=lambda q: (-round(q.bits, 9), q.complaint, q.check))[:QUESTIONS])


def by_caller(check: IsolationCheck) -> bool:
    """Whether somebody at the machine can answer it by looking: no tools, no meter, nothing live, not isolated."""
    return not check.tools and not check.live and not check.reading and {*check.states} != {Energy.ISOLATED}
