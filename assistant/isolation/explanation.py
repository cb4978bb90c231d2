"""A decision -> the numbers of the sentence that says why: minutes, what each outcome would leave, what looking first saves."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from assistant.domain.fault_log import ChangeState, Decision, DoCheck, DoRepair, Event, HandOver, Log, Prove, Work
from assistant.domain.isolation import SOMETHING_ELSE, IsolationModel
from assistant.domain.likelihood import TELLING
from assistant.isolation.panel import counted
from assistant.isolation.progress import Progress, cure_chance, evidence_rows, posterior, progress, shares_of, survival
from assistant.isolation.tables import Floats

UNLIKELY = 0.05
"""Below this a cause is said to be unlikely, without a figure."""
RULED_OUT = 0.02
"""Below this a cause that had been above UNLIKELY or fell to a fifth of its prior counts as ruled out."""
TOP = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Chance:
    """A cause and the belief in it."""

    cause: str
    chance: float


@dataclass(frozen=True, slots=True, kw_only=True)
class OutcomeView:
    """An outcome: how likely it is, what it would leave (top three), what it would rule out, how far it moves the belief.

    `moved` is the total variation between the beliefs before and after, 0 to 1.
    """

    outcome: str
    chance: float
    leaves: tuple[Chance, ...]
    rules_out: tuple[str, ...]
    moved: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RuledOut:
    """A cause that is unlikely now, and the check's answer or the failed repair (`outcome` empty) that did most to it."""

    cause: str
    by: str
    outcome: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CodeSign:
    """A code that was seen and counts (`none`: the panel showed none), the check that it answers, the causes that it moves.

    It speaks for a cause under which it is TELLING times as likely as on the whole, against one where it is that much rarer.
    """

    code: str
    check: str
    speaks_for: tuple[str, ...]
    against: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Explanation:
    """Why this action: all numbers, no words.

    `own_minutes` include the change of state, which `change` names; `telling` is the outcome that moves the belief most;
    `cure` the chance that the chosen repair, or the unproved ones, cures; `near` actions that are as good within a minute;
    `there` what else is worth doing in the state that the action changes to; `passes` the proofs in a row wanted; `codes` what
    the panel was seen to show.
    """

    action: Work
    change: ChangeState | None
    own_minutes: float
    minutes_left: float
    repair_minutes: float
    saving_minutes: float
    top: tuple[Chance, ...]
    something_else: float
    outcomes: tuple[OutcomeView, ...] = ()
    telling: str = ""
    cure: float = 0.0
    near: tuple[Work, ...] = ()
    there: tuple[Work, ...] = ()
    ruled_out: tuple[RuledOut, ...] = ()
    codes: tuple[CodeSign, ...] = ()
    next_check: Work | None = None
    next_check_costs: float = 0.0
    next_check_saves: float = 0.0
    passes: int = 0
    surprised: bool = False


def explain(model: IsolationModel, log: Iterable[Event], decision: Decision) -> Explanation:
    """The numbers of a decision taken after a log.

    Raises:
        IsolationError: the log does not fit the model.

    """
    log = tuple(log)
    at = progress(model, log)
    now = posterior(model, at)
    action = decision.action
    outcomes = outcome_views(model, now, action.check) if isinstance(action, DoCheck) else ()
    change = decision.step if isinstance(decision.step, ChangeState) else None
    base = Explanation(
        action=action,
        change=change,
        own_minutes=decision.own_minutes,
        minutes_left=decision.minutes_left,
        repair_minutes=decision.repair_minutes,
        saving_minutes=decision.saving_minutes,
        top=top(model, now),
        something_else=float(now[model.causes.index(SOMETHING_ELSE)]),
        outcomes=outcomes,
        telling=max(outcomes, key=lambda view: view.moved).outcome if outcomes else "",
        cure=_cure(model, at, now, action),
        near=tuple(work for work in decision.near if work != action),
        there=_there(decision) if change else (),
        ruled_out=ruled_out(model, at),
        codes=code_signs(model, log),
        passes=action.passes if isinstance(action, Prove) else 0,
        surprised=at.surprised,
    )
    return _with_next_check(base, decision)


def top(model: IsolationModel, belief: Floats, many: int = TOP) -> tuple[Chance, ...]:
    """The likeliest causes, author's order among equals."""
    order = sorted(range(len(model.causes)), key=lambda c: (-round(float(belief[c]), 12), c))
    return tuple(Chance(cause=model.causes[c], chance=float(belief[c])) for c in order[:many])


def outcome_views(model: IsolationModel, now: Floats, check_id: str) -> tuple[OutcomeView, ...]:
    """What each outcome of a check would do to a belief (n,)."""
    check = model.checks[model.check_index(check_id)]
    views = []
    for label, row in zip(check.outcomes, check.likelihood, strict=True):
        joint = now * np.array(row)
        chance = float(joint.sum())
        after = joint / chance if chance > 0 else now
        gone = [c for c, p in enumerate(after) if p < RULED_OUT and now[c] >= UNLIKELY]
        views.append(
            OutcomeView(
                outcome=label,
                chance=chance * (1.0 - check.dont_know),
                leaves=top(model, after),
                rules_out=tuple(model.causes[c] for c in gone),
                moved=float(np.abs(after - now).sum() / 2.0),
            )
        )
    return tuple(views)


def ruled_out(model: IsolationModel, at: Progress) -> tuple[RuledOut, ...]:
    """Causes that are unlikely now though their prior was not, each with the evidence that lowered it most."""
    now = posterior(model, at)
    prior = np.array(model.prior)
    evidence: list[tuple[str, str, Floats]] = []
    for index, row in evidence_rows(model, at).items():
        check = model.checks[index]
        said = at.answers[index] or ()
        evidence.append((check.id, check.outcomes[said.index(max(said))], np.array(row)))
    evidence += [(model.repairs[index].id, "", survival(model, [index])) for index in sorted(at.failed)]
    found = []
    for cause, belief in enumerate(now[:-1]):
        if not evidence or belief >= RULED_OUT or prior[cause] < max(RULED_OUT, 5.0 * belief):
            continue
        by, outcome, _ = min(evidence, key=lambda item: float(item[2][cause]) / max(float(item[2] @ prior), 1e-300))
        found.append(RuledOut(cause=model.causes[cause], by=by, outcome=outcome))
    return tuple(found)


def code_signs(model: IsolationModel, log: Log) -> tuple[CodeSign, ...]:
    """What the panel was seen to show and still counts, likeliest causes by the prior first.

    Raises:
        IsolationError: the log does not fit the model.

    """
    prior = np.array(model.prior)
    order = sorted(range(len(prior) - 1), key=lambda c: (-model.prior[c], c))
    signs = []
    for answer in counted(model, log):
        check = model.checks[model.check_index(answer.check)]
        row = np.array(shares_of(model, answer)) @ np.array(check.likelihood)
        mean = float(row @ prior)
        signs.append(
            CodeSign(
                code=answer.seen,
                check=answer.check,
                speaks_for=tuple(model.causes[c] for c in order if row[c] >= TELLING * mean)[:TOP],
                against=tuple(model.causes[c] for c in order if TELLING * row[c] <= mean)[:TOP],
            )
        )
    return tuple(signs)


def _cure(model: IsolationModel, at: Progress, now: Floats, action: Work) -> float:
    """Chance that the repair, with those that wait for their proof, cures."""
    if isinstance(action, DoRepair):
        repair = model.repair_index(action.repair)
        return 1.0 - float(now @ survival(model, at.unproved | {repair}))
    if isinstance(action, Prove):
        return cure_chance(model, at)
    return 0.0


def _there(decision: Decision) -> tuple[Work, ...]:
    """Other work in the state that the step leads to, worth naming: "isolate once for the next two"."""
    state = getattr(decision.action, "energy", None)
    others = [o for o in decision.options if o.action != decision.action and getattr(o.action, "energy", None) is state]
    worth = [o for o in others if o.minutes_left <= decision.repair_minutes + 1e-6]
    return tuple(option.action for option in worth[: TOP - 1])


def _with_next_check(base: Explanation, decision: Decision) -> Explanation:
    """For a repair or hand-over: the best check not done, what it costs and what it could save against the action taken."""
    if not isinstance(base.action, DoRepair | HandOver):
        return base
    checks = [option for option in decision.options if isinstance(option.action, DoCheck)]
    if not checks:
        return base
    best = checks[0]
    saves = decision.minutes_left - (best.minutes_left - best.own_minutes)
    return replace(base, next_check=best.action, next_check_costs=best.own_minutes, next_check_saves=max(0.0, saves))
