"""`handlamp jobs figures`: what closed jobs say of a machine."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Annotated

import typer

from assistant.errors import BadQuestion
from assistant.jobs_cli import JsonFlag, job_ledger

if TYPE_CHECKING:
    from assistant.calculation.reliability import Bounded
    from assistant.records.reliability import Figures

MachineOption = Annotated[
    str | None, typer.Option("--machine", "-m", help="One machine; left out: each that has jobs.")
]


def mount(jobs: typer.Typer) -> None:
    """Put the commands beside those of the job record."""
    jobs.command("figures")(figures)


def figures(
    machine: MachineOption = None,
    hours: Annotated[float | None, typer.Option("--hours", help="Run hours watched, instead of calendar time.")] = None,
    confidence: Annotated[float, typer.Option("--confidence", help="Of the bounds, in percent.")] = 90.0,
    as_json: JsonFlag = False,
) -> None:
    """Availability, mean times with their bounds, and causes by share, over closed jobs."""
    import msgspec

    from assistant.records.reliability import figures_of

    if not 1 <= confidence <= 99.9:
        raise BadQuestion(f"A confidence of {confidence:g} % has no use.", "Give 1 to 99.9, such as 90.")
    if hours is not None and not 0 < hours < float("inf"):
        raise BadQuestion("Run hours are above zero.", "Give the hours that the machine ran while the jobs were noted.")
    if hours is not None and machine is None:
        raise BadQuestion("Run hours belong to one machine.", "Give -m MACHINE beside --hours.")
    with job_ledger() as ledger:
        states = [s for s in ledger.states() if machine in (None, s.job.machine)]
    found = figures_of(states, confidence, hours)
    if as_json:
        body = {"schema": "handlamp-figures/1", "machines": msgspec.to_builtins(found)}
        typer.echo(json.dumps(body, ensure_ascii=False))
        return
    if not found:
        typer.echo("There are no closed jobs" + (f" of {machine}." if machine else "."))
    for one in found:
        _print(one)


def _print(found: Figures) -> None:
    from assistant.records.wording import visible

    typer.echo(
        visible(f"{found.machine}: {found.jobs} closed jobs, {found.failures} failures in {found.hours_up:.1f} h up")
    )
    typer.echo(f"  availability          {_bounded(found.availability, '%')}")
    typer.echo(f"  mean time between     {_bounded(found.mtbf, 'h')}")
    typer.echo(f"  mean time to repair   {_bounded(found.mttr, 'h')}")
    typer.echo(f"  bounds of {found.confidence:g} %, for failures at a steady rate and log-normal repair times")
    typer.echo(f"  {'jobs':>6} {'share':>7} {'together':>9}  cause")
    for row in found.causes:
        typer.echo(visible(f"  {row.jobs:>6.2f} {row.percent:>5.1f} % {row.together:>7.1f} %  {row.cause}"))
    for note in found.notes:
        typer.echo(f"  note: {note}")


def _bounded(figure: Bounded, unit: str) -> str:
    if figure.value is None:
        return "cannot be said" if figure.low is None else f"at least {figure.low:.2f} {unit}"
    if figure.low is None or figure.high is None:
        return f"{figure.value:.2f} {unit}, no bounds"
    return f"{figure.value:.2f} {unit} ({figure.low:.2f} to {figure.high:.2f})"
