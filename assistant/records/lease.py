"""Who works on an open job: one row a job, so that a second session is told and a dead one is taken over from."""

from __future__ import annotations

import os
import platform
import sqlite3
from collections.abc import Callable
from dataclasses import dataclass

from assistant.errors import JobInUse
from assistant.records.moments import minutes_between

STALE_MINUTES = 30.0
"""A session that said nothing for so long no longer holds its job; longer than most single repairs' steps, shorter than a shift."""
Alive = Callable[[int], bool]


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionMark:
    """One running session: its own id, and the process and machine it runs in."""

    session: str
    pid: int
    host: str


def own_mark(session: str) -> SessionMark:
    """The mark of this process."""
    return SessionMark(session=session, pid=os.getpid(), host=platform.node())


def process_alive(pid: int) -> bool:
    """Whether there is such a process; where that cannot be asked harmlessly, the heartbeat alone decides."""
    if os.name != "posix":
        return True
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except (PermissionError, OverflowError):
        return True
    return True


def take(connection: sqlite3.Connection, job: str, mark: SessionMark, at: str, alive: Alive = process_alive) -> str:
    """Hold the job from now on; a notice when a dead session was taken over from, else empty. Inside a transaction.

    Raises:
        JobInUse: a living session holds it.

    """
    held = _held(connection, job)
    notice = ""
    if held is not None and held[0] != mark:
        other, beat_at = held
        why = _stale(other, beat_at, mark, at, alive)
        if not why:
            raise _in_use(job, other, beat_at)
        notice = f"Job {job} was held by a session that {why}; it is taken over."
    connection.execute(
        "INSERT OR REPLACE INTO lease VALUES (?, ?, ?, ?, ?)", (job, mark.session, mark.pid, mark.host, at)
    )
    return notice


def beat(connection: sqlite3.Connection, job: str, mark: SessionMark, at: str) -> None:
    """Say that the session lives. Inside a transaction.

    Raises:
        JobInUse: the session does not hold the job (any more).

    """
    held = _held(connection, job)
    if held is not None and held[0] != mark:
        raise _in_use(job, *held)
    if held is None:
        raise JobInUse(f"This session does not hold job {job}.", "Resume the job first.")
    connection.execute("UPDATE lease SET beat_at = ? WHERE job = ?", (at, job))


def give_back(connection: sqlite3.Connection, job: str, mark: SessionMark) -> None:
    """Hold the job no longer; a lease of somebody else stays. Inside a transaction."""
    connection.execute(
        "DELETE FROM lease WHERE job = ? AND session = ? AND pid = ? AND host = ?",
        (job, mark.session, mark.pid, mark.host),
    )


def refuse_held(connection: sqlite3.Connection, job: str, mark: SessionMark, at: str, alive: Alive) -> None:
    """Nothing when the job is free for that session.

    Raises:
        JobInUse: a living session holds it.

    """
    held = _held(connection, job)
    if held is not None and held[0] != mark and not _stale(held[0], held[1], mark, at, alive):
        raise _in_use(job, *held)


def _held(connection: sqlite3.Connection, job: str) -> tuple[SessionMark, str] | None:
    row = connection.execute("SELECT session, pid, host, beat_at FROM lease WHERE job = ?", (job,)).fetchone()
    return None if row is None else (SessionMark(session=row[0], pid=row[1], host=row[2]), row[3])


def _stale(other: SessionMark, beat_at: str, mark: SessionMark, at: str, alive: Alive) -> str:
    if other.host == mark.host and not alive(other.pid):
        return f"is gone (process {other.pid})"
    silent = minutes_between(beat_at, at)
    if silent > STALE_MINUTES:
        return f"said nothing for {silent:.0f} minutes"
    return ""


def _in_use(job: str, other: SessionMark, beat_at: str) -> JobInUse:
    return JobInUse(
        f"Job {job} is being worked on by another session (process {other.pid} on {other.host}, last heard {beat_at}).",
        f"End that session, or wait {STALE_MINUTES:.0f} minutes after it was last heard.",
    )
