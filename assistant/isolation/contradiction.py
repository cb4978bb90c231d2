"""A log -> whether one of its answers may well be wrong, and which to look at again.

One slip at most is supposed: the odds that answer i is not as stated are e / (1 - e) times the mean, over its other outcomes,
of P(evidence with that outcome) / P(evidence). Of seven statistics compared this one caught most wrong answers.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace

import numpy as np

from assistant.domain.fault_log import Answered, Event, ReadingNear, Revised
from assistant.domain.isolation import SOMETHING_ELSE, IsolationModel
from assistant.isolation.progress import Progress, posterior, progress, shares_of, survival
from assistant.isolation.tables import Floats

SLIP = 0.03
"""Chance that one answer is not as stated."""
ALARM = 0.7
"""Alarm when all-as-stated is less likely. Set on guided sessions of generated models of 15 causes and 25 checks by their false
alarms: 7 %, and 60 % of wrong answers caught. At 0.5 those were 3 and 39 %, in sessions of two to four answers 0.5 and 6 %."""
STRANGE = 0.4
"""Something else above this is named before any alarm."""


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class Suspect:
    """A check whose answer may be wrong, the chance of that, and the outcome that would fit best."""

    chance: float
    check: str
    instead: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Contradiction:
    """`all_as_stated` chance that no answer is wrong; suspects, likeliest first; `something_else` and whether to name it."""

    all_as_stated: float
    suspects: tuple[Suspect, ...]
    something_else: float

    @property
    def alarm(self) -> bool:
        """One answer may well not be as stated: looking again is worth its minutes."""
        return self.all_as_stated < ALARM

    @property
    def strange(self) -> bool:
        """Something else is likely enough to be named."""
        return self.something_else > STRANGE


def contradiction(model: IsolationModel, log: Iterable[Event], slip: float = SLIP) -> Contradiction:
    """How well the answers of a log go together.

    Raises:
        IsolationError: the log does not fit the model.

    """
    events = tuple(log)
    return contradiction_at(model, progress(model, events), slip, twice_alike(model, events))


def twice_alike(model: IsolationModel, log: Iterable[Event]) -> frozenset[int]:
    """Checks whose last two answers are the same outcome: asked again after an alarm, a step back or a surprising proof."""
    last: dict[int, int] = {}
    alike: set[int] = set()
    for event in log:
        said = event.to if isinstance(event, Revised) else event
        if not isinstance(said, Answered | ReadingNear):
            continue
        index, shares = model.check_index(said.check), shares_of(model, said)
        assert shares is not None
        outcome = int(np.argmax(shares))
        # a word put right is one look with another word, not a second look
        again = not isinstance(event, Revised) and last.get(index) == outcome
        (alike.add if again else alike.discard)(index)
        last[index] = outcome
    return frozenset(alike)


def contradiction_at(
    model: IsolationModel, at: Progress, slip: float = SLIP, twice: Collection[int] = ()
) -> Contradiction:
    """The same for what a log has left standing; the checks of `twice` were answered alike twice, and both would have to be wrong."""
    answered = [index for index, answer in enumerate(at.answers) if answer is not None]
    odds, instead = [], []
    for index in answered:
        ratio, best = _otherwise(model, at, index)
        odds.append((slip / (1.0 - slip)) ** (2 if index in twice else 1) * ratio)
        instead.append(best)
    whole = 1.0 + sum(odds)
    suspects = [
        Suspect(chance=some / whole, check=model.checks[index].id, instead=best)
        for some, index, best in zip(odds, answered, instead, strict=True)
    ]
    order = {check.id: i for i, check in enumerate(model.checks)}
    last = float(posterior(model, at)[model.causes.index(SOMETHING_ELSE)])
    return Contradiction(
        all_as_stated=1.0 / whole,
        suspects=tuple(sorted(suspects, key=lambda s: (-round(s.chance, 12), order[s.check]))),
        something_else=last,
    )


def _otherwise(model: IsolationModel, at: Progress, index: int) -> tuple[float, str]:
    """Mean of P(evidence with another outcome) / P(evidence), and the outcome that makes the evidence likeliest."""
    check, answer = model.checks[index], at.answers[index]
    assert answer is not None
    # the answers without this one: the ratio needs only what they leave of each cause
    without = replace(at, answers=(*at.answers[:index], None, *at.answers[index + 1 :]))
    rest = posterior(model, without)
    rows: Floats = np.array(check.likelihood) @ rest
    stated = float(np.array(answer) @ rows)
    said = int(np.argmax(answer))
    others = [o for o in range(len(check.outcomes)) if o != said]
    best = max(others, key=lambda o: (rows[o], -o))
    if stated <= 0.0:
        return float("inf"), check.outcomes[best]
    return float(np.mean([rows[o] for o in others])) / stated, check.outcomes[best]


def evidence_chance(model: IsolationModel, log: Iterable[Event]) -> float:
    """P(answers kept and failed repairs) under the model; never 0 where no cell is 0."""
    at = progress(model, log)
    total = np.array(model.prior) * survival(model, at.failed)
    for index, answer in enumerate(at.answers):
        if answer is not None:
            total = total * (np.array(answer) @ np.array(model.checks[index].likelihood))
    return float(total.sum())
