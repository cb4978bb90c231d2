"""`handlamp jobs`: what is done with the job record from the command line. The clock and the names of people come in here."""

from __future__ import annotations

import json
import os
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from assistant.errors import BadQuestion, EventRefused, RecordBroken, RecordError, UnknownName
from assistant.settings import load_settings

if TYPE_CHECKING:
    from assistant.domain.entries import FaultModel
    from assistant.domain.job import JobState
    from assistant.domain.job_terms import Share
    from assistant.records.lease import SessionMark
    from assistant.records.ledger import Ledger

jobs_app = typer.Typer(help="The job record: list, show, take up, close, export, amend and verify jobs.")

JobArgument = Annotated[str, typer.Argument(help="The job's id (2026-11-25-1).")]
JsonFlag = Annotated[bool, typer.Option("--json", help="Print a JSON object instead of text.")]
Who = Annotated[str | None, typer.Option("--who", help="Who says so; left out: the user of this computer.")]
Found = Annotated[
    list[str] | None,
    typer.Option("--found", help="A cause's id, or id=share; again for each of several. Shares sum to one."),
]


def now() -> str:
    """The time with this computer's offset, to the second."""
    return datetime.now().astimezone().isoformat(timespec="seconds")


def user(who: str | None) -> str:
    """The name given, else the one this computer knows."""
    return who or os.environ.get("USER") or os.environ.get("USERNAME") or "unknown"


def new_mark() -> SessionMark:
    """A mark for a session that begins now."""
    from assistant.records.lease import own_mark

    return own_mark(uuid.uuid4().hex)


@contextmanager
def job_ledger() -> Iterator[Ledger]:
    """The record of the settings' data folder; see `records.database.opened` for what is raised."""
    from assistant.records.ledger import FILE, open_ledger

    with open_ledger(load_settings().data_dir / FILE) as ledger:
        yield ledger


def resume(job_id: str) -> JobState:
    """Make it the job that the next session takes up, and tell how it stands.

    Raises:
        EventRefused: it is closed.
        JobInUse: a living session works on it.
        UnknownName: no such job.
        RecordError: the record cannot be used.

    """
    from assistant.domain.job import JobStatus

    with job_ledger() as ledger:
        if ledger.state(job_id).job.status is JobStatus.CLOSED:
            raise EventRefused(f"Job {job_id} is closed.", "A closed job is amended (`handlamp jobs amend`).")
        return ledger.set_current(job_id, new_mark(), now())


@jobs_app.command("list")
def list_jobs(as_json: JsonFlag = False) -> None:
    """Every job, oldest first: status, machine, complaint, and where it stands or what was found."""
    from assistant.records.job_json import list_object
    from assistant.records.markdown import list_row
    from assistant.records.wording import visible

    with job_ledger() as ledger:
        states = ledger.states()
    if as_json:
        typer.echo(json.dumps(list_object(states), ensure_ascii=False))
        return
    if not states:
        typer.echo("There are no jobs yet.")
    for state in states:
        job, status, machine, complaint, at, who, stands = map(visible, list_row(state))
        typer.echo(f"{job:<14} {status:<10} {machine}: {complaint}\n{'':<14} {at} {who}; {stands}")


@jobs_app.command("show")
def show_job(job: JobArgument, as_json: JsonFlag = False) -> None:
    """One job: its head, what holds while it is left, and its log."""
    from assistant.records.job_json import job_object
    from assistant.records.job_record import must_not, record_of, summary
    from assistant.records.markdown import what
    from assistant.records.wording import log_line, visible

    with job_ledger() as ledger:
        record = record_of(ledger, job)
    if as_json:
        typer.echo(json.dumps(job_object(record), ensure_ascii=False))
        return
    typer.echo(f"Job {record.state.job.id}")
    for label, text in summary(record):
        typer.echo(f"  {label}: {visible(text)}")
    for item in must_not(record.state):
        typer.echo(f"  WHILE IT IS LEFT: {visible(item)}")
    for event in record.events:
        line = log_line(event)
        typer.echo(visible(f"{line.seq:>4} {line.at} {line.who}: {line.title}. {what(line)}"))


@jobs_app.command("resume")
def resume_job(job: JobArgument, as_json: JsonFlag = False) -> None:
    """Say where a job stands and take it up in the next session."""
    from assistant.records.job_json import state_object
    from assistant.records.job_record import must_not, place_in_work
    from assistant.records.wording import visible

    state = resume(job)
    if as_json:
        typer.echo(json.dumps({"job": str(state.job.id), "state": state_object(state)}, ensure_ascii=False))
        return
    typer.echo(visible(f"Job {state.job.id}, {state.job.machine}: {state.job.complaint}"))
    typer.echo(visible(f"Stands at: {place_in_work(state)} (last heard {state.last_at})."))
    for item in must_not(state):
        typer.echo(f"WHILE IT IS LEFT: {visible(item)}")
    typer.echo("The machine's energy state has to be declared again. The next session takes this job up.")


@jobs_app.command("close")
def close_job(
    job: JobArgument,
    found: Found = None,
    not_found: Annotated[bool, typer.Option("--not-found", help="No cause was found.")] = False,
    handed_over_to: Annotated[str, typer.Option("--handed-over-to", help="Who goes on with it.")] = "",
    note: Annotated[str, typer.Option("--note", help="A last word.")] = "",
    who: Who = None,
) -> None:
    """Close a job with the cause that was found."""
    from assistant.domain.job_events import Closed
    from assistant.records.job_record import finding

    if bool(found) == not_found:
        raise BadQuestion("What was found has to be said.", "Give --found CAUSE (or CAUSE=SHARE), or --not-found.")
    mark, at, shares = new_mark(), now(), shares_of(found or [])
    closing = Closed(found=shares, text=note, handed_over_to=handed_over_to)
    with job_ledger() as ledger:
        refuse_unknown(shares, ledger.state(job))
        if notice := ledger.take(job, mark, at):
            typer.echo(f"note: {notice}", err=True)
        try:
            ledger.append(job, closing, at=at, who=user(who), mark=mark)
        finally:
            ledger.give_back(job, mark)
        state = ledger.state(job)
    typer.echo(f"Job {job} is closed: {finding(state)}.")
    if not state.proved and not state.handed_over_to:
        typer.echo("note: no proof has passed since the last repair, so nothing is learnt from it.", err=True)


@jobs_app.command("amend")
def amend_job(
    job: JobArgument,
    reason: Annotated[str, typer.Argument(help="What was learnt after the end.")],
    found: Found = None,
    not_found: Annotated[bool, typer.Option("--not-found", help="What was called the cause was none.")] = False,
    who: Who = None,
) -> None:
    """Add to a closed job; what was written before stays readable."""
    from assistant.domain.job_events import Amended
    from assistant.records.job_record import finding

    if found and not_found:
        raise BadQuestion("--found and --not-found exclude each other.", "Give one of them, or neither.")
    shares = shares_of(found or []) if found or not_found else None
    with job_ledger() as ledger:
        refuse_unknown(shares or (), ledger.state(job))
        ledger.append(job, Amended(reason=reason, found=shares), at=now(), who=user(who), mark=new_mark())
        state = ledger.state(job)
    typer.echo(f"Job {job} is amended: {finding(state)}.")


@jobs_app.command("export")
def export_job(
    job: Annotated[str | None, typer.Argument(help="The job's id; left out: the list of jobs.")] = None,
    form: Annotated[str, typer.Option("--form", "-f", help="md, json, csv or html.")] = "md",
    out: Annotated[Path | None, typer.Option("--out", "-o", help="A file; left out: standard output.")] = None,
) -> None:
    """Write one job, or the list of jobs, as Markdown, JSON, CSV or one printable HTML page."""
    from assistant.records.export import Form, exported_job, exported_jobs
    from assistant.records.job_record import record_of

    if form not in list(Form):
        raise UnknownName(f"There is no form `{form}`.", f"One of: {', '.join(Form)}.")
    with job_ledger() as ledger:
        text = exported_job(record_of(ledger, job), Form(form)) if job else exported_jobs(ledger.states(), Form(form))
    if out is None:
        typer.get_binary_stream("stdout").write(text.encode())
        return
    try:
        out.write_bytes(text.encode())
    except OSError as error:
        raise RecordError(f"The export cannot be written: {error}", "Give --out another place.") from error
    typer.echo(f"{out}", err=True)


@jobs_app.command("verify")
def verify_jobs(
    job: Annotated[str | None, typer.Argument(help="A job's id, to compare with --seal.")] = None,
    seal: Annotated[str, typer.Option("--seal", help="The seal on a printed or exported copy.")] = "",
) -> None:
    """Check that every event and all maintenance is what was written, and that nothing is missing."""
    with job_ledger() as ledger:
        rows, cares = ledger.verify(), ledger.care_seals()
        seals = ledger.seals(job) if job else ()
    maintenance = f" and {len(cares)} of maintenance" if cares else ""
    typer.echo(f"{rows} events{maintenance}, all as they were written.")
    if not seal:
        return
    if not job and seal in cares:
        typer.echo(f"The copy stands at maintenance {cares.index(seal) + 1} of {len(cares)}.")
        return
    if not job:
        raise BadQuestion("A seal belongs to a job, and no maintenance has this one.", "Give the job's id beside it.")
    if seal not in seals:
        raise RecordBroken(
            f"No event of job {job} has the seal {seal}.", "The copy or the record was changed; compare their events."
        )
    typer.echo(f"The copy stands at event {seals.index(seal) + 1} of {len(seals)} of job {job}.")


@jobs_app.command("learned")
def learned(
    fault: Annotated[str, typer.Argument(help="A fault's entry id (drumlin/fault/turntable-slow).")],
    as_json: JsonFlag = False,
) -> None:
    """What finished jobs say of a fault's causes, and authored cells that they speak against."""
    import msgspec

    from assistant.records.doubtful_cells import doubtful_cells
    from assistant.records.learning import learned_weights

    model = _fault(fault)
    with job_ledger() as ledger:
        states = ledger.states()
    weights, cells = learned_weights(model, states), doubtful_cells(model, states)
    if as_json:
        found = {"weights": msgspec.to_builtins(weights), "doubtful_cells": msgspec.to_builtins(cells)}
        typer.echo(json.dumps(found, ensure_ascii=False))
        return
    typer.echo(f"{weights.fault}: {len(weights.counted)} jobs counted, {len(weights.left_out)} left out")
    typer.echo(f"{'cause':<28} authored  learned  jobs")
    for cause in weights.causes:
        typer.echo(f"{cause.cause:<28} {cause.authored:>8.3f} {cause.learned:>8.3f} {cause.jobs:>5.2f}")
    if weights.unknown:
        typer.echo(f"Causes that jobs name and the fault no longer has: {', '.join(weights.unknown)}")
    for cell in cells:
        typer.echo(
            f"Look again: {cell.check}, `{cell.outcome}` under {cell.cause}: authored {cell.stated:.3f}, "
            f"seen {cell.seen} of {cell.jobs} times (p = {cell.p:.2g})"
        )


def _fault(name: str) -> FaultModel:
    from assistant.corpus.reader import read_knowledge

    faults = {fault.full_id: fault for fault in read_knowledge(load_settings().knowledge).faults}
    for full_id, fault in faults.items():
        if full_id == name:
            return fault
    near = [full_id for full_id in faults if name.rpartition("/")[2] in full_id][:5]
    raise UnknownName(
        f"There is no fault `{name}`.", f"Near it: {', '.join(near)}." if near else "See `handlamp check`."
    )


def refuse_unknown(shares: tuple[Share, ...], state: JobState) -> None:
    """Let causes of the job's fault pass; a fault that is not in the knowledge names none.

    Raises:
        UnknownName: no cause of that fault.

    """
    from assistant.corpus.reader import read_knowledge
    from assistant.domain.isolation import SOMETHING_ELSE

    if not shares or not state.job.fault:
        return
    for fault in read_knowledge(load_settings().knowledge).faults:
        names = [*(cause.id for cause in fault.causes), SOMETHING_ELSE]
        for share in shares:
            if fault.full_id == state.job.fault and share.name not in names:
                raise UnknownName(f"`{share.name}` is no cause of {fault.full_id}.", f"One of: {', '.join(names)}.")


def shares_of(found: list[str]) -> tuple[Share, ...]:
    """`relay` or `relay=0.7 cable=0.3` as shares; a cause without a share takes an equal part of what is left.

    Raises:
        BadQuestion: a share that is no figure.

    """
    from assistant.domain.job_terms import Share

    given: list[tuple[str, float | None]] = []
    for text in found:
        name, sign, share = text.partition("=")
        try:
            given.append((name.strip(), float(share) if sign else None))
        except ValueError as error:
            raise BadQuestion(f"`{text}` has no share that is a figure.", "Write relay=0.7, or relay alone.") from error
    bare = sum(1 for _, share in given if share is None)
    left = 1.0 - sum(share for _, share in given if share is not None)
    return tuple(Share(name=name, share=left / bare if share is None else share) for name, share in given)
