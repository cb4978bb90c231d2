"""`handlamp jobs figures|due|done`: what closed jobs say of a machine, and its maintenance by calendar and counters."""

from __future__ import annotations

import json
import math
from datetime import date
from typing import TYPE_CHECKING, Annotated

import typer

from assistant.errors import BadQuestion, UnknownName
from assistant.jobs_cli import JsonFlag, Who, job_ledger, now, user
from assistant.settings import load_settings

if TYPE_CHECKING:
    from assistant.calculation.reliability import Bounded
    from assistant.domain.entries import Maintenance
    from assistant.records.reliability import Figures

HoursOption = Annotated[float | None, typer.Option("--hours", help="What the run-hour counter reads.")]
CyclesOption = Annotated[float | None, typer.Option("--cycles", help="What the cycle counter reads.")]
MachineOption = Annotated[
    str | None, typer.Option("--machine", "-m", help="One machine; left out: each that has jobs.")
]


def mount(jobs: typer.Typer) -> None:
    """Put the commands beside those of the job record."""
    jobs.command("figures")(figures)
    jobs.command("due")(due)
    jobs.command("done")(done)


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


def due(
    machine: MachineOption = None, hours: HoursOption = None, cycles: CyclesOption = None, as_json: JsonFlag = False
) -> None:
    """When each maintenance task is due next, the most pressing first."""
    import msgspec

    from assistant.records.care import due_next

    if machine is None and (hours, cycles) != (None, None):
        raise BadQuestion("A counter belongs to one machine.", "Give -m MACHINE beside --hours or --cycles.")
    tasks = [task for task in _tasks() if machine in (None, task.full_id.partition("/")[0])]
    if not tasks:
        raise UnknownName(f"No maintenance is written for `{machine}`.", "See `handlamp machines`.")
    with job_ledger() as ledger:
        cares, seals = ledger.cares(), ledger.care_seals()
    found = due_next(tasks, cares, date.fromisoformat(now()[:10]), _reading(hours), _reading(cycles))
    if as_json:
        body = {"schema": "handlamp-due/1", "tasks": msgspec.to_builtins(found), "seal": seals[-1] if seals else ""}
        typer.echo(json.dumps(body, ensure_ascii=False))
        return
    for one in found:
        at = f"due {one.at}, last {one.last}" if one.at else "never recorded as done"
        typer.echo(f"{one.standing:<18} {one.task}: {one.title}\n{'':<18} every {one.every}; {at}")


def done(
    task: Annotated[str, typer.Argument(help="The maintenance entry's id (drumlin/maintenance/weekly).")],
    at: Annotated[str | None, typer.Option("--at", help="The day it was done; left out: today.")] = None,
    hours: HoursOption = None,
    cycles: CyclesOption = None,
    who: Who = None,
) -> None:
    """Record that a maintenance task was done."""
    from assistant.records.care import CareDone
    from assistant.records.moments import day

    known = {entry.full_id: entry for entry in _tasks()}
    entry = next((e for full_id, e in known.items() if full_id == task), None)
    if entry is None:
        near = [full_id for full_id in known if task.rpartition("/")[2] in full_id][:5]
        raise UnknownName(f"There is no maintenance `{task}`.", f"One of: {', '.join(near or known)}.")
    unit = entry.interval.unit.removesuffix("s")
    if (unit in ("h", "hour") and hours is None) or (unit == "cycle" and cycles is None):
        raise BadQuestion(
            f"{task} goes by a counter ({entry.interval.unit}).", "Give its reading: --hours or --cycles."
        )
    written = now()
    on = day(at or written[:10])
    if on > written[:10]:
        raise BadQuestion(f"{on} is still to come.", "Give the day on which it was done.")
    row = CareDone(task=task, day=on, hours=_reading(hours), cycles=_reading(cycles), who=user(who), at=written)
    with job_ledger() as ledger:
        ledger.note_care(row)
    typer.echo(f"{task} is recorded as done on {on}.")


def _reading(counter: float | None) -> float | None:
    if counter is not None and not (math.isfinite(counter) and counter >= 0):
        raise BadQuestion(f"No counter reads {counter}.", "Give what the counter shows, zero or above.")
    return counter


def _tasks() -> tuple[Maintenance, ...]:
    from assistant.corpus.reader import read_knowledge

    return read_knowledge(load_settings().knowledge).maintenance
