"""The tables of the record, as the steps that lead from each version to the next."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Sequence

from assistant.records.care import CareDone
from assistant.records.care_log import CareRow
from assistant.records.chain import BEGINNING, Row, link

APPLICATION = 0x68_4C_4A_52
"""`PRAGMA application_id`: tells our file from any other SQLite file."""
Migration = Callable[[sqlite3.Connection], None]

_V1 = (
    "CREATE TABLE job (id TEXT PRIMARY KEY NOT NULL)",
    """CREATE TABLE event (
        row INTEGER PRIMARY KEY NOT NULL,
        job TEXT NOT NULL REFERENCES job(id),
        seq INTEGER NOT NULL,
        at TEXT NOT NULL,
        who TEXT NOT NULL,
        kind TEXT NOT NULL,
        body TEXT NOT NULL,
        UNIQUE (job, seq)
    )""",
)
_GUARDS = (
    "CREATE TRIGGER event_stays BEFORE UPDATE ON event BEGIN SELECT RAISE(ABORT, 'events are never changed'); END",
    "CREATE TRIGGER event_kept BEFORE DELETE ON event BEGIN SELECT RAISE(ABORT, 'events are never removed'); END",
)
_V2 = (
    "ALTER TABLE event ADD COLUMN chain TEXT NOT NULL DEFAULT ''",
    # How far the log goes: without it the loss of the last rows would not show.
    "CREATE TABLE seal (one INTEGER PRIMARY KEY CHECK (one = 1), rows INTEGER NOT NULL, chain TEXT NOT NULL)",
    """CREATE TABLE lease (
        job TEXT PRIMARY KEY NOT NULL REFERENCES job(id),
        session TEXT NOT NULL,
        pid INTEGER NOT NULL,
        host TEXT NOT NULL,
        beat_at TEXT NOT NULL
    )""",
    "CREATE TABLE desk (one INTEGER PRIMARY KEY CHECK (one = 1), job TEXT NOT NULL REFERENCES job(id))",
)

_V3 = (
    """CREATE TABLE care (
        row INTEGER PRIMARY KEY NOT NULL,
        task TEXT NOT NULL,
        day TEXT NOT NULL,
        hours REAL,
        cycles REAL,
        who TEXT NOT NULL,
        at TEXT NOT NULL
    )""",
    "CREATE TRIGGER care_stays BEFORE UPDATE ON care BEGIN SELECT RAISE(ABORT, 'what was done is never changed'); END",
    "CREATE TRIGGER care_kept BEFORE DELETE ON care BEGIN SELECT RAISE(ABORT, 'what was done is never removed'); END",
)
_V4 = (
    "ALTER TABLE care ADD COLUMN chain TEXT NOT NULL DEFAULT ''",
    "CREATE TABLE care_seal (one INTEGER PRIMARY KEY CHECK (one = 1), rows INTEGER NOT NULL, chain TEXT NOT NULL)",
)


def _to_v1(connection: sqlite3.Connection) -> None:
    for statement in (*_V1, *_GUARDS):
        connection.execute(statement)


def _to_v2(connection: sqlite3.Connection) -> None:
    connection.execute("DROP TRIGGER event_stays")
    for statement in _V2:
        connection.execute(statement)
    before, count = BEGINNING, 0
    stored = connection.execute("SELECT row, job, seq, at, who, kind, body FROM event ORDER BY row").fetchall()
    for place, old in enumerate(stored, start=1):
        row = Row(row=place, job=old[1], seq=old[2], at=old[3], who=old[4], kind=old[5], body=old[6])
        before, count = link(before, row), place
        connection.execute("UPDATE event SET row = ?, chain = ? WHERE row = ?", (place, before, old[0]))
    connection.execute("INSERT INTO seal VALUES (1, ?, ?)", (count, before))
    connection.execute(_GUARDS[0])


def _to_v3(connection: sqlite3.Connection) -> None:
    for statement in _V3:
        connection.execute(statement)


def _to_v4(connection: sqlite3.Connection) -> None:
    connection.execute("DROP TRIGGER care_stays")
    for statement in _V4:
        connection.execute(statement)
    before, count = BEGINNING, 0
    stored = connection.execute("SELECT row, task, day, hours, cycles, who, at FROM care ORDER BY row").fetchall()
    for place, old in enumerate(stored, start=1):
        done = CareDone(task=old[1], day=old[2], hours=old[3], cycles=old[4], who=old[5], at=old[6])
        before, count = link(before, CareRow(row=place, done=done)), place
        connection.execute("UPDATE care SET row = ?, chain = ? WHERE row = ?", (place, before, old[0]))
    connection.execute("INSERT INTO care_seal VALUES (1, ?, ?)", (count, before))
    connection.execute(_V3[1])


MIGRATIONS: Sequence[Migration] = (_to_v1, _to_v2, _to_v3, _to_v4)
"""The step to version n stands at n - 1; a step that was released is never edited."""
