"""A log -> what it leaves standing: answers kept, checks open, repairs unproved or failed, proofs passed.

The log is first edited (a revision replaces what was said, at its place), then folded in order. Order matters at proofs
only: one that fails although the cure was likely restarts the search.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from assistant.domain.fault_log import (
    Answered,
    CantCheck,
    CantRepair,
    DontKnow,
    Event,
    Log,
    ProofFailed,
    ProofPassed,
    ReadingNear,
    Repaired,
    Revised,
    Said,
)
from assistant.domain.isolation import IsolationModel
from assistant.errors import IsolationError
from assistant.isolation.tables import Floats

SURPRISE = 0.8
"""A proof that fails although the cure was this likely restarts the search: with two faults 19 % cheaper, with one 0.5 % dearer."""

Shares = tuple[float, ...]
"""Share of each outcome that an answer stands for; one of them 1 unless a reading lay near a limit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """Per check its answer (None: none) and whether it is closed; per repair whether withdrawn; failed and unproved repairs.

    `passes` counts proofs passed since the last repair; `surprises` the proofs that failed although the cure was likely, and
    `surprised` says that the last event was one.
    """

    answers: tuple[Shares | None, ...]
    closed: tuple[bool, ...]
    withdrawn: tuple[bool, ...]
    failed: frozenset[int] = frozenset()
    unproved: frozenset[int] = frozenset()
    passes: int = 0
    surprises: int = 0
    surprised: bool = False

    @property
    def spare(self) -> tuple[bool, ...]:
        """Repairs that may still be done."""
        done = self.failed | self.unproved
        return tuple(not gone and index not in done for index, gone in enumerate(self.withdrawn))


def start(model: IsolationModel) -> Progress:
    """Nothing happened yet."""
    return Progress(
        answers=(None,) * len(model.checks),
        closed=tuple(not check.offered for check in model.checks),
        withdrawn=(False,) * len(model.repairs),
    )


def progress(model: IsolationModel, log: Iterable[Event]) -> Progress:
    """What the log leaves standing.

    Raises:
        IsolationError: an event names what the model has not, or a revision what was not said.

    """
    at = start(model)
    for event in edited(tuple(log)):
        at = after(model, at, event)
    return at


def edited(log: Log) -> Log:
    """The log with every revision carried out: as if the new word had been said at once, or never anything.

    Raises:
        IsolationError: a revision of something that was not said.

    """
    kept: list[Event] = []
    for event in log:
        if not isinstance(event, Revised):
            kept.append(event)
            continue
        said = [i for i, old in enumerate(kept) if isinstance(old, Said) and old.check == event.check]
        if not said or (event.to is not None and event.to.check != event.check):
            raise IsolationError(f"nothing was said of `{event.check}` that could be revised", "answer the check first")
        kept[said[-1] : said[-1] + 1] = [] if event.to is None else [event.to]
    return tuple(kept)


def after(model: IsolationModel, at: Progress, event: Event) -> Progress:
    """One event later.

    Raises:
        IsolationError: it names what the model has not.

    """
    match event:
        case Answered() | ReadingNear() | DontKnow() | CantCheck():
            return _said(model, at, event)
        case Repaired(repair=name):
            unproved = at.unproved | {model.repair_index(name)}
            return replace(at, unproved=unproved, failed=at.failed - unproved, passes=0, surprised=False)
        case CantRepair(repair=name):
            index = model.repair_index(name)
            withdrawn = (*at.withdrawn[:index], True, *at.withdrawn[index + 1 :])
            return replace(at, withdrawn=withdrawn, surprised=False)
        case ProofPassed():
            return replace(at, passes=at.passes + 1, surprised=False)
        case ProofFailed():
            return proof_failed(model, at)
        case Revised():
            raise IsolationError(f"a revision of `{event.check}` outside of a log", "edit the log first")


def _said(model: IsolationModel, at: Progress, said: Said) -> Progress:
    index = model.check_index(said.check)
    answer = shares_of(model, said)
    leaves_open = isinstance(said, ReadingNear) and said.seen != ""
    return replace(
        at,
        answers=(*at.answers[:index], answer, *at.answers[index + 1 :]),
        closed=(*at.closed[:index], not leaves_open, *at.closed[index + 1 :]),
        surprised=False,
    )


def shares_of(model: IsolationModel, said: Said) -> Shares | None:
    """What is said of a check as shares of its outcomes; None where it says nothing.

    Raises:
        IsolationError: no such check or outcome, or shares that are none.

    """
    check = model.checks[model.check_index(said.check)]
    if isinstance(said, DontKnow | CantCheck):
        return None
    given = ((said.outcome, 1.0),) if isinstance(said, Answered) else said.shares
    strange = [name for name, _ in given if name not in check.outcomes]
    total = sum(share for _, share in given)
    if strange or total <= 0 or min(share for _, share in given) < 0:
        raise IsolationError(
            f"{given} is no answer to `{check.id}`",
            f"the outcomes are: {', '.join(check.outcomes)}; ask again with them",
        )
    return tuple(sum(share for name, share in given if name == label) / total for label in check.outcomes)


def proof_failed(model: IsolationModel, at: Progress) -> Progress:
    """What the unproved repairs should have cured is not there any more, or the belief was wrong.

    When the cure was likely, the answers that are not normal spoke for a cause that is gone: they are dropped and their
    checks opened again; normal answers stay.
    """
    surprising = bool(at.unproved) and cure_chance(model, at) >= SURPRISE
    then = replace(at, failed=at.failed | at.unproved, unproved=frozenset(), passes=0, surprised=surprising)
    if not surprising:
        return then
    stale = [
        answer is not None and not _normal(answer, check.normal)
        for answer, check in zip(at.answers, model.checks, strict=True)
    ]
    return replace(
        then,
        answers=tuple(None if old else answer for answer, old in zip(at.answers, stale, strict=True)),
        closed=tuple(
            not check.offered if old else closed
            for closed, old, check in zip(at.closed, stale, model.checks, strict=True)
        ),
        surprises=at.surprises + 1,
    )


def _normal(answer: Shares, normal: int) -> bool:
    return answer[normal] >= max(answer)


def evidence_rows(model: IsolationModel, at: Progress) -> dict[int, tuple[float, ...]]:
    """Check index -> likelihood of its answer under each cause; that of a mixture is the mean of its rows by its shares."""
    return {
        index: _row(model.checks[index].likelihood, answer)
        for index, answer in enumerate(at.answers)
        if answer is not None
    }


def _row(table: tuple[tuple[float, ...], ...], answer: Shares) -> tuple[float, ...]:
    if 1.0 in answer:
        return table[answer.index(1.0)]
    return tuple(
        sum(share * cell for share, cell in zip(answer, cells, strict=True)) for cells in zip(*table, strict=True)
    )


def survival(model: IsolationModel, repairs: Iterable[int]) -> Floats:
    """Chance (n,) that a cause outlives all of the repairs."""
    chance: Floats = np.ones(len(model.causes))
    for index in sorted(repairs):
        chance *= 1.0 - np.array(model.repairs[index].cures)
    return chance


def posterior(model: IsolationModel, at: Progress) -> Floats:
    """Belief (n,) in each cause having been there when the last proof failed; passes count where proofs are imperfect.

    The weights are prior x likelihoods of the answers x chances of outliving the failed repairs; the largest is brought back
    to one after each factor, so that no length of log lets them vanish.

    Raises:
        IsolationError: no cause is left that could be; only where a model has hard zeros.

    """
    weights = list(model.prior)
    factors = list(evidence_rows(model, at).values())
    factors += [tuple(1.0 - chance for chance in model.repairs[index].cures) for index in sorted(at.failed)]
    if at.passes and at.unproved:
        alive = survival(model, at.unproved)
        factors.append(tuple(((1.0 - alive) + alive * model.passes_anyway**at.passes).tolist()))
    for factor in factors:
        weights = [weight * cell for weight, cell in zip(weights, factor, strict=True)]
        peak = max(weights)
        if peak <= 0.0:
            raise IsolationError(f"{model.id}: no cause fits what was said", "revise an answer, or hand over")
        weights = [weight / peak for weight in weights]
    belief: Floats = np.array(weights)
    belief /= belief.sum()
    return belief


def cure_chance(model: IsolationModel, at: Progress) -> float:
    """Belief that the unproved repairs cured the machine, proofs passed so far included."""
    belief = posterior(model, replace(at, passes=0))
    uncured = float(belief @ survival(model, at.unproved))
    passed = uncured * model.passes_anyway**at.passes if at.passes else uncured
    return (1.0 - uncured) / (1.0 - uncured + passed) if passed < 1.0 else 0.0
