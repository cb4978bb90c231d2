"""A job, or the list of jobs -> JSON for other programs; `schema` rises when a field changes its meaning."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

import msgspec

from assistant.domain.job import JobState
from assistant.records.job_record import JobRecord

JOB_SCHEMA, LIST_SCHEMA = "handlamp-job/1", "handlamp-jobs/1"


def job_object(record: JobRecord) -> dict[str, Any]:
    """The job, how it stands, its seal, and its events with every field, exactly as they were said."""
    events = [
        {"seq": e.seq, "at": e.at, "who": e.who, "kind": str(e.detail.kind), "detail": msgspec.to_builtins(e.detail)}
        for e in record.events
    ]
    return {
        "schema": JOB_SCHEMA,
        "job": msgspec.to_builtins(record.state.job),
        "state": state_object(record.state),
        "seal": record.seal,
        "events": events,
    }


def state_object(state: JobState) -> dict[str, Any]:
    """How the job stands, without what the events say anyway."""
    return {
        "seq": state.seq,
        "last_at": state.last_at,
        "energy": str(state.energy),
        "isolation_items": list(state.isolation_items),
        "step": state.step,
        "procedures": msgspec.to_builtins(state.procedures),
        "finished": list(state.finished),
        "standings": msgspec.to_builtins(state.standings),
        "unproved": list(state.unproved),
        "proved": state.proved,
        "minutes": state.minutes,
        "found": msgspec.to_builtins(state.found),
        "handed_over_to": state.handed_over_to,
        "must_not": list(state.left.must_not) if state.left else [],
        "warnings": list(state.warnings),
    }


def job_as_json(record: JobRecord) -> str:
    """The whole job."""
    return json.dumps(job_object(record), ensure_ascii=False, indent=2) + "\n"


def list_object(states: Sequence[JobState]) -> dict[str, Any]:
    """The list of jobs."""
    rows = [{"job": msgspec.to_builtins(state.job), "state": state_object(state)} for state in states]
    return {"schema": LIST_SCHEMA, "jobs": rows}


def jobs_as_json(states: Sequence[JobState]) -> str:
    """The list of jobs."""
    return json.dumps(list_object(states), ensure_ascii=False, indent=2) + "\n"
