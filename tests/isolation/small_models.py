"""Small fault models for tests: the public ones of public_models.yaml, and a short way to write others."""

from dataclasses import dataclass

import yaml

from assistant.domain.isolation import SOMETHING_ELSE, EnergyLadder, IsolationCheck, IsolationModel, IsolationRepair
from assistant.domain.terms import Energy
from tests.conftest import ROOT

FREE = EnergyLadder(running_stopped=0, stopped_running=0, stopped_isolated=0, isolated_stopped=0)


@dataclass(frozen=True)
class Public:
    model: IsolationModel
    energy: Energy
    expect: dict


def small(prior, checks=(), repairs=(), **rest):
    """Named causes c1.. with `prior` (something else gets what is left); checks (id, minutes, rows), repairs (id, minutes, cures).

    Rows and cures are over the named causes; under something else outcomes are equally likely. All in `running`.
    """
    leak = 1.0 - sum(prior)
    leak = 0.0 if abs(leak) < 1e-12 else leak
    states = rest.pop("states", (Energy.RUNNING,))
    return IsolationModel(
        id="small",
        causes=(*(f"c{i}" for i in range(1, len(prior) + 1)), SOMETHING_ELSE),
        prior=(*prior, leak),
        checks=tuple(
            IsolationCheck(
                id=name,
                minutes=minutes,
                states=states,
                outcomes=tuple(f"o{i}" for i in range(len(rows))),
                likelihood=tuple((*row, 1 / len(rows)) for row in rows),
                normal=len(rows) - 1,
            )
            for name, minutes, rows in checks
        ),
        repairs=tuple(
            IsolationRepair(id=name, minutes=minutes, states=states, cures=(*cures, 0.0))
            for name, minutes, cures in repairs
        ),
        **{"ladder": FREE, "proof_minutes": 0.0, "hand_over": 10_000.0, **rest},
    )


def unit(index, many, value=1.0):
    return tuple(value if i == index else 0.0 for i in range(many))


def binary(*inside):
    """Rows of a check that always shows its first outcome under the causes marked 1, never under the others."""
    return (tuple(float(x) for x in inside), tuple(1.0 - x for x in inside))


def public_models():
    raw = yaml.safe_load((ROOT / "tests/isolation/public_models.yaml").read_text())["public"]
    return {
        item["id"]: Public(model=_model(item), energy=Energy(item["model"]["start"]), expect=item["expect"])
        for item in raw
    }


def _model(item):
    raw = item["model"]
    causes = tuple(raw["causes"])
    checks = []
    for name, check in raw["checks"].items():
        rows = [[row.get(cause, row.get("else", 0.0)) for cause in causes] for row in check["outcomes"].values()]
        checks.append(
            IsolationCheck(
                id=name,
                minutes=check["minutes"],
                states=tuple(Energy(s) for s in check["states"]),
                outcomes=tuple(check["outcomes"]),
                likelihood=tuple(map(tuple, rows)),
                normal=len(rows) - 1,
            )
        )
    repairs = [
        IsolationRepair(
            id=name,
            minutes=repair["minutes"],
            states=tuple(Energy(s) for s in repair["states"]),
            cures=tuple(float(repair["cures"].get(cause, 0.0)) for cause in causes),
        )
        for name, repair in raw["repairs"].items()
    ]
    return IsolationModel(
        id=item["id"],
        causes=causes,
        prior=tuple(raw["causes"].values()),
        checks=tuple(checks),
        repairs=tuple(repairs),
        ladder=EnergyLadder(**raw["energy"]),
        proof_minutes=raw["prove"],
        hand_over=raw["hand_over"],
    )
