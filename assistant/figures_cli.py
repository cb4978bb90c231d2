"""`handlamp jobs figures`: what the job record says of a machine's reliability."""

from __future__ import annotations

import json
from typing import Annotated

import typer

from assistant.jobs_cli import JsonFlag, job_ledger, jobs_app, now
from assistant.records.reliability import CONFIDENCE, FEW, Bounds, reliability

__all__ = ["figures", "jobs_app"]


@jobs_app.command("figures")
def figures(
    machine: Annotated[str | None, typer.Option("--machine", "-m", help="One machine; left out: all jobs.")] = None,
    hours: Annotated[
        float | None, typer.Option("--hours", help="Hours of operation; left out: calendar hours since the first job.")
    ] = None,
    as_json: JsonFlag = False,
) -> None:
    """Time between failures, time to repair, availability, and the causes by how often they came."""
    import msgspec

    with job_ledger() as ledger:
        found = reliability(ledger.states(), machine, now(), hours)
    if as_json:
        typer.echo(json.dumps(msgspec.to_builtins(found), ensure_ascii=False))
        return
    what = "of operation" if found.measured else "by the calendar, since the first job"
    typer.echo(f"{found.machine or 'all machines'}: {found.failures} closed jobs in {found.hours:.0f} h {what}")
    typer.echo(f"  mean time between failures  {_told(found.between)}")
    if found.to_repair is None:
        typer.echo("  mean time to repair         no closed job says its minutes")
    else:
        typer.echo(f"  mean time to repair         {_told(found.to_repair)}, hands on")
    if found.availability is not None:
        typer.echo(f"  availability                {100 * found.availability:.2f} %, waiting for help not counted")
    if found.failures < FEW:
        typer.echo(f"  With fewer than {FEW} jobs the bounds say more than the mean.")
    if found.open_jobs or found.unnamed:
        typer.echo(f"  {found.open_jobs} jobs are not closed; {found.unnamed} closed ones name no cause.")
    for cause in found.causes:
        typer.echo(
            f"  {cause.jobs:6.2f}  {cause.share:5.1f} %  so far {cause.together:5.1f} %  {cause.cause} ({cause.fault})"
        )
    typer.echo(f"Bounds of {100 * CONFIDENCE:.0f} %, for a steady rate and exponentially spread repairs.")


def _told(bounds: Bounds) -> str:
    return f"{bounds.mean_h:.1f} h ({bounds.low_h:.1f} h to {bounds.high_h:.1f} h)"
