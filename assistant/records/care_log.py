"""Maintenance that was done <-> rows in a chain of their own: added, read back, held to what was written."""

from __future__ import annotations

import math
import sqlite3
from dataclasses import dataclass

from assistant.errors import RecordError
from assistant.records.care import CareDone
from assistant.records.chain import broken_links, broken_seal, link
from assistant.records.encoding import clean_text
from assistant.records.moments import day, moment

_COLUMNS = "row, task, day, hours, cycles, who, at, chain"


@dataclass(frozen=True, slots=True, kw_only=True)
class CareRow:
    """Maintenance as stored; `row` counts from 1, `chain` is its sha256 in hex."""

    row: int
    done: CareDone
    chain: str = ""

    @property
    def content(self) -> tuple[str | int | float | None, ...]:
        """Every column but the sha256 itself."""
        done = self.done
        return (self.row, done.task, done.day, done.hours, done.cycles, done.who, done.at)

    @property
    def named(self) -> str:
        """Its place and its task."""
        return f"row {self.row} ({self.done.task}, done {self.done.day})"


def add(connection: sqlite3.Connection, done: CareDone) -> str:
    """Write one down, within the caller's transaction; its sha256.

    Raises:
        RecordError: its day or its time is none, or a counter is no finite figure.

    """
    day(done.day)
    moment(done.at)
    clean = CareDone(
        task=clean_text(done.task),
        day=done.day,
        hours=_stored(done.hours),
        cycles=_stored(done.cycles),
        who=clean_text(done.who),
        at=done.at,
    )
    count, chain = connection.execute("SELECT rows, chain FROM care_seal").fetchone()
    row = CareRow(row=count + 1, done=clean)
    following = link(chain, row)
    connection.execute(f"INSERT INTO care ({_COLUMNS}) VALUES (?, ?, ?, ?, ?, ?, ?, ?)", (*row.content, following))
    connection.execute("UPDATE care_seal SET rows = ?, chain = ?", (row.row, following))
    return following


def _stored(counter: float | None) -> float | None:
    """As the column gives it back, on which the sha256 rests: a float, without the sign of a zero."""
    if counter is None:
        return None
    if not math.isfinite(counter):
        raise RecordError(f"No counter reads {counter}.", "Give what the counter shows.")
    return float(counter) + 0.0


def rows(connection: sqlite3.Connection) -> tuple[CareRow, ...]:
    """All of it, in the order in which it was written down."""
    found = connection.execute(f"SELECT {_COLUMNS} FROM care ORDER BY row").fetchall()
    return tuple(
        CareRow(row=r[0], done=CareDone(task=r[1], day=r[2], hours=r[3], cycles=r[4], who=r[5], at=r[6]), chain=r[7])
        for r in found
    )


def faults(connection: sqlite3.Connection) -> tuple[str, ...]:
    """What is not as it was written."""
    there = rows(connection)
    sealed = connection.execute("SELECT rows, chain FROM care_seal").fetchone()
    return tuple(f"maintenance: {fault}" for fault in (*broken_links(there), *broken_seal(there, sealed)))
