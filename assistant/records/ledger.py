"""The job record on disk: events are added, never changed; every state is replayed from them."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from assistant.domain.job import JobEvent, JobState, JobStatus
from assistant.domain.job_events import Detail, Opened
from assistant.domain.job_terms import JobId
from assistant.errors import AssistantError, RecordBroken, UnknownName
from assistant.records import care_log, lease
from assistant.records.care import CareDone
from assistant.records.chain import Row, broken_links, broken_seal, link
from assistant.records.database import opened, transaction, translated
from assistant.records.encoding import clean_text, decoded, encoded
from assistant.records.lease import Alive, SessionMark, process_alive
from assistant.records.moments import day, moment
from assistant.records.replay import folded, replayed

FILE = "jobs.sqlite3"
_COLUMNS = "row, job, seq, at, who, kind, body, chain"


def job_order(job: str) -> tuple[str, int]:
    """Sorts ids by date, then by the day's counter as a number."""
    date, _, counter = job.rpartition("-")
    return (date, int(counter)) if counter.isdecimal() else (job, 0)


def _event(row: Row) -> JobEvent:
    return JobEvent(job=JobId(row.job), seq=row.seq, at=row.at, who=row.who, detail=decoded(row.kind, row.body))


@contextmanager
def open_ledger(path: Path, alive: Alive = process_alive) -> Iterator[Ledger]:
    """The record at that path, closed at the end; see `database.opened` for what is raised."""
    connection = opened(path)
    try:
        yield Ledger(connection, path, alive)
    finally:
        connection.close()


class Ledger:
    """All jobs. What a method returned is on the disk; every method may raise RecordError."""

    def __init__(self, connection: sqlite3.Connection, path: Path, alive: Alive = process_alive) -> None:
        """Work on an open record; `alive` tells whether a process still runs."""
        self._connection = connection
        self._alive = alive
        self._kept: dict[JobId, tuple[str, JobState]] = {}
        self.path = path

    @contextmanager
    def _writing(self) -> Iterator[sqlite3.Connection]:
        with translated(self.path), transaction(self._connection):
            yield self._connection

    def open_job(self, opening: Opened, *, date: str, at: str, who: str, mark: SessionMark) -> JobEvent:
        """Begin a job, held by that session; its id is the date and the next free number of that day."""
        prefix = day(date)
        moment(at)
        with self._writing() as connection:
            ids = [row[0] for row in connection.execute("SELECT id FROM job WHERE id GLOB ?", (f"{prefix}-*",))]
            job = JobId(f"{prefix}-{1 + max((job_order(i)[1] for i in ids), default=0)}")
            connection.execute("INSERT INTO job VALUES (?)", (job,))
            lease.take(connection, job, mark, at, self._alive)
            return self._add(connection, job, opening, at, who)

    def append(self, job: str, detail: Detail, *, at: str, who: str, mark: SessionMark) -> JobEvent:
        """Add an event to a job that the session holds (a closed job is held by nobody and takes amendments).

        Raises:
            EventRefused: the job cannot take it.
            JobInUse: the session does not hold the job.
            UnknownName: no such job.

        """
        moment(at)
        with self._writing() as connection:
            known = self._known(job)
            # A closed job is held by nobody: what is refused then is the event, not the session.
            if self._state(known).job.status is JobStatus.CLOSED:
                return self._add(connection, known, detail, at, who)
            lease.beat(connection, known, mark, at)
            event = self._add(connection, known, detail, at, who)
            if self._state(known).job.status is not JobStatus.OPEN:
                lease.give_back(connection, known, mark)
            return event

    def _add(self, connection: sqlite3.Connection, job: JobId, detail: Detail, at: str, who: str) -> JobEvent:
        body = encoded(detail)
        before = self._state(job) if self._last_chain(job) else None
        seq = 1 if before is None else before.seq + 1
        event = JobEvent(job=job, seq=seq, at=at, who=clean_text(who), detail=decoded(detail.kind, body))
        after = folded(before, event)
        count, chain = connection.execute("SELECT rows, chain FROM seal").fetchone()
        row = Row(row=count + 1, job=job, seq=seq, at=at, who=event.who, kind=detail.kind, body=body)
        following = link(chain, row)
        connection.execute(
            f"INSERT INTO event ({_COLUMNS}) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            (row.row, row.job, row.seq, row.at, row.who, str(row.kind), row.body, following),
        )
        connection.execute("UPDATE seal SET rows = ?, chain = ?", (row.row, following))
        self._kept[job] = (following, after)
        return event

    def take(self, job: str, mark: SessionMark, at: str) -> str:
        """Hold a job; a notice when a dead session was taken over from.

        Raises:
            JobInUse: a living session holds it.
            UnknownName: no such job.

        """
        moment(at)
        with self._writing() as connection:
            return lease.take(connection, self._known(job), mark, at, self._alive)

    def beat(self, job: str, mark: SessionMark, at: str) -> None:
        """Say that the session lives; JobInUse when it does not hold the job any more."""
        moment(at)
        with self._writing() as connection:
            lease.beat(connection, job, mark, at)

    def give_back(self, job: str, mark: SessionMark) -> None:
        """Hold the job no longer."""
        with self._writing() as connection:
            lease.give_back(connection, job, mark)

    def set_current(self, job: str, mark: SessionMark, at: str) -> JobState:
        """Make it the job that the next session takes up; JobInUse when a living session holds it."""
        moment(at)
        with self._writing() as connection:
            known = self._known(job)
            lease.refuse_held(connection, known, mark, at, self._alive)
            connection.execute("INSERT OR REPLACE INTO desk VALUES (1, ?)", (known,))
            return self._state(known)

    def clear_current(self) -> None:
        """No job waits for the next session."""
        with self._writing() as connection:
            connection.execute("DELETE FROM desk")

    def note_care(self, done: CareDone) -> None:
        """Add maintenance that was done; RecordError when its day, its time or a counter is none."""
        with self._writing() as connection:
            care_log.add(connection, done)

    def cares(self) -> tuple[CareDone, ...]:
        """All maintenance that was done, in the order in which it was written down."""
        with translated(self.path):
            return tuple(row.done for row in care_log.rows(self._connection))

    def care_seals(self) -> tuple[str, ...]:
        """The sha256 of each maintenance row, in order; the last one is the seal of them all."""
        with translated(self.path):
            return tuple(row.chain for row in care_log.rows(self._connection))

    def current(self) -> JobId | None:
        """The job that the next session takes up, if one was set."""
        with translated(self.path):
            row = self._connection.execute("SELECT job FROM desk").fetchone()
        return None if row is None else JobId(row[0])

    def ids(self) -> tuple[JobId, ...]:
        """All jobs, oldest first."""
        with translated(self.path):
            found = [row[0] for row in self._connection.execute("SELECT id FROM job")]
        return tuple(JobId(i) for i in sorted(found, key=job_order))

    def events(self, job: str) -> tuple[JobEvent, ...]:
        """The log of one job.

        Raises:
            UnknownName: no such job; near ids are offered.

        """
        with translated(self.path):
            return self._events(self._known(job))

    def state(self, job: str) -> JobState:
        """How one job stands.

        Raises:
            UnknownName: no such job.

        """
        with translated(self.path):
            return self._state(self._known(job))

    def states(self) -> tuple[JobState, ...]:
        """How every job stands, oldest first."""
        return tuple(self.state(job) for job in self.ids())

    def seals(self, job: str) -> tuple[str, ...]:
        """The sha256 of each event of a job, in order; the last one is the job's seal."""
        with translated(self.path):
            return tuple(row.chain for row in self._rows(self._known(job)))

    def verify(self) -> int:
        """The number of events, when all of them and all maintenance are what was written.

        Raises:
            RecordBroken: with every fault found.

        """
        with translated(self.path):
            faults = [f"file: {row[0]}" for row in self._connection.execute("PRAGMA integrity_check") if row[0] != "ok"]
            rows = self._read("")
            faults += broken_links(rows)
            faults += broken_seal(rows, self._connection.execute("SELECT rows, chain FROM seal").fetchone())
            faults += care_log.faults(self._connection)
            faults += self._job_faults()
        if faults:
            raise RecordBroken(
                f"The job record {self.path} has {len(faults)} fault(s):",
                "Somebody or something changed the file; compare it with a copy or with an export.",
                faults,
            )
        return len(rows)

    def _job_faults(self) -> Iterator[str]:
        for table, row, parent, _ in self._connection.execute("PRAGMA foreign_key_check").fetchall():
            yield f"{table} row {row} points at a {parent} that is not there"
        for (job,) in self._connection.execute("SELECT id FROM job ORDER BY id").fetchall():
            try:
                replayed(self._events(JobId(job)))
            except AssistantError as error:
                yield f"job {job}: {error.message}"

    def _known(self, job: str) -> JobId:
        if self._connection.execute("SELECT 1 FROM job WHERE id = ?", (clean_text(job),)).fetchone() is None:
            newest = sorted((r[0] for r in self._connection.execute("SELECT id FROM job")), key=job_order)[-3:]
            hint = f"The newest jobs: {', '.join(newest)}." if newest else "There are no jobs yet."
            raise UnknownName(f"There is no job `{clean_text(job)}`.", hint)
        return JobId(job)

    def _state(self, job: JobId) -> JobState:
        """Replayed, or kept from the last time: the same sha256 at the end means the same events."""
        chain, state = self._kept.get(job, ("", None))
        if state is None or chain != self._last_chain(job):
            rows = self._rows(job)
            state = replayed(map(_event, rows))
            self._kept[job] = (rows[-1].chain, state)
        return state

    def _last_chain(self, job: JobId) -> str:
        found = self._connection.execute("SELECT chain FROM event WHERE job = ? ORDER BY seq DESC LIMIT 1", (job,))
        row = found.fetchone()
        return "" if row is None else str(row[0])

    def _events(self, job: JobId) -> tuple[JobEvent, ...]:
        return tuple(map(_event, self._rows(job)))

    def _rows(self, job: JobId) -> tuple[Row, ...]:
        return self._read("WHERE job = ?", job)

    def _read(self, where: str, *given: str) -> tuple[Row, ...]:
        found = self._connection.execute(f"SELECT {_COLUMNS} FROM event {where} ORDER BY row", given)
        return tuple(
            Row(row=r[0], job=r[1], seq=r[2], at=r[3], who=r[4], kind=r[5], body=r[6], chain=r[7]) for r in found
        )
