"""An authored fault model -> the numeric one: words to numbers, weights to a prior, something else with a row of its own."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from assistant.domain.entries import Check, FaultModel, PanelCode, Repair
from assistant.domain.isolation import (
    LADDER,
    SOMETHING_ELSE,
    EnergyLadder,
    IsolationCheck,
    IsolationModel,
    IsolationRepair,
)
from assistant.domain.likelihood import table
from assistant.domain.panel import NOT_SHOWN, SHOWN, panel_check
from assistant.domain.terms import Energy, Value
from assistant.errors import IsolationError

DEFAULT_LADDER = EnergyLadder()
"""Where the machine's values say nothing."""
LADDER_VALUES: Mapping[str, str] = {
    "running_stopped": "minutes_to_stop",
    "stopped_running": "minutes_to_start",
    "stopped_isolated": "minutes_to_isolate",
    "isolated_stopped": "minutes_to_restore",
}
"""Names of the machine's values that say otherwise."""


def compile_model(
    fault: FaultModel, ladder: EnergyLadder = DEFAULT_LADDER, weights: Mapping[str, float] | None = None
) -> IsolationModel:
    """The numeric model; `weights` (cause or something_else -> any scale) replace the authored ones, learned say.

    Raises:
        IsolationError: the model has no causes, repairs or proof, or a likelihood that cannot be read.

    """
    if not fault.causes or fault.proof is None:
        raise IsolationError(f"{fault.full_id} has no causes or no proof", "write them; see knowledge/README.md")
    causes = tuple(cause.id for cause in fault.causes)
    prior = prior_of(fault, weights)
    return IsolationModel(
        id=fault.full_id,
        causes=(*causes, SOMETHING_ELSE),
        prior=prior,
        checks=(
            *(_check(check, causes, prior[:-1]) for check in fault.checks),
            *_panel(fault.panel, causes, prior[:-1]),
        ),
        repairs=tuple(_repair(repair, causes) for repair in fault.repairs),
        ladder=ladder,
        proof_minutes=fault.proof.minutes,
        proof_energy=Energy.RUNNING if fault.proof.energy is Energy.UNKNOWN else fault.proof.energy,
        passes_anyway=fault.proof.passes_anyway,
        hand_over=fault.hand_over,
    )


def prior_of(fault: FaultModel, weights: Mapping[str, float] | None = None) -> tuple[float, ...]:
    """Prior of the causes and, last, something else; sums to one.

    Raises:
        IsolationError: given weights that miss a cause or are negative.

    """
    if weights is None:
        named = sum(cause.weight for cause in fault.causes)
        share = 1.0 - fault.something_else
        raw = [*(cause.weight / named * share for cause in fault.causes), fault.something_else]
    else:
        names = [*(cause.id for cause in fault.causes), SOMETHING_ELSE]
        raw = [weights.get(name, -1.0) for name in names]
    total = math.fsum(raw)
    if min(raw) < 0 or total <= 0:
        raise IsolationError(
            f"{fault.full_id}: weights {dict(weights or {})}", "one from 0 for every cause and something else"
        )
    return tuple(value / total for value in raw)


def ladder_of(values: Mapping[str, Value], default: EnergyLadder = DEFAULT_LADDER) -> EnergyLadder:
    """The ladder of a machine: its values named in LADDER_VALUES, in minutes, else the default."""

    def minutes(field: str) -> float:
        value = values.get(LADDER_VALUES[field])
        authored = None if value is None else value.value if value.value is not None else value.max
        return float(getattr(default, field) if authored is None else authored)

    return EnergyLadder(**{field: minutes(field) for field in LADDER_VALUES})


def _states(energy: Energy, also: Sequence[Energy] = ()) -> tuple[Energy, ...]:
    """Where something may be done; an unknown state means in any."""
    named = {energy, *also}
    return LADDER if Energy.UNKNOWN in named else tuple(state for state in LADDER if state in named)


def _check(check: Check, causes: Sequence[str], named: Sequence[float]) -> IsolationCheck:
    """A check in figures; something else has the prior-weighted mean row of the named causes."""
    try:
        rows = table(check, causes)
    except (KeyError, ZeroDivisionError) as error:
        raise IsolationError(f"check `{check.id}`: {error!r} in its likelihoods", "run `handlamp check`") from error
    total = math.fsum(named)
    mean = [math.fsum(p * cell for p, cell in zip(named, row, strict=True)) / total for row in rows]
    whole = [(*row, last) for row, last in zip(rows, mean, strict=True)]
    sums = [math.fsum(column) for column in zip(*whole, strict=True)]
    normal = [index for index, outcome in enumerate(check.outcomes) if outcome.normal]
    return IsolationCheck(
        id=check.id,
        minutes=check.minutes,
        states=_states(check.energy, check.also),
        outcomes=tuple(outcome.says[0] for outcome in check.outcomes),
        likelihood=tuple(tuple(cell / s for cell, s in zip(row, sums, strict=True)) for row in whole),
        normal=normal[0] if normal else 0,
        live=check.live,
        reading=check.reading is not None,
        tools=check.tools,
    )


def _panel(panel: Sequence[PanelCode], causes: Sequence[str], named: Sequence[float]) -> tuple[IsolationCheck, ...]:
    """Each code of the panel, and the panel without one, as a check of no minutes: never offered, answered when it was seen.

    What they show sums to one under a cause; a code that was not mentioned says nothing, so each is a check of its own.
    """
    if not panel:
        return ()
    whole = _check(panel_check(panel, causes), causes, named)
    return tuple(
        IsolationCheck(
            id=name,
            minutes=0.0,
            states=LADDER,
            outcomes=(SHOWN, NOT_SHOWN),
            likelihood=(row, tuple(1.0 - cell for cell in row)),
            normal=int(place != whole.normal),
            offered=False,
        )
        for place, (name, row) in enumerate(zip(whole.outcomes, whole.likelihood, strict=True))
    )


def _repair(repair: Repair, causes: Sequence[str]) -> IsolationRepair:
    return IsolationRepair(
        id=repair.id,
        minutes=repair.minutes,
        states=_states(repair.energy),
        cures=(*(float(repair.cures.get(cause, 0.0)) for cause in causes), 0.0),
        price=repair.price,
        destroys=repair.destroys,
        parts=repair.parts,
        tools=repair.tools,
    )
