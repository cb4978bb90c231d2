"""A path -> an open record: refused when it is newer or foreign, migrated when it is older, every SQLite error translated."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from pathlib import Path

from assistant.errors import RecordBroken, RecordError
from assistant.records.schema import APPLICATION, MIGRATIONS, Migration

BUSY_S = 5.0
"""How long a write waits for another session's write; one takes milliseconds."""
_HEADER_LENGTH = 100
_MAGIC = b"SQLite format 3\x00"
_USER_VERSION, _APPLICATION_ID = slice(60, 64), slice(68, 72)
"""Places in the file's header (SQLite, Database File Format, 1.3), big-endian."""


@contextmanager
def translated(path: Path) -> Iterator[None]:
    """SQLite's errors as the program's own.

    Raises:
        RecordBroken: the file is corrupt.
        RecordError: it is read-only, locked, on a full disk, or cannot be opened.

    """
    try:
        yield
    except sqlite3.OperationalError as error:
        raise RecordError(f"The job record {path} cannot be used: {error}.", _hint(str(error))) from error
    except (sqlite3.DatabaseError, OverflowError) as error:
        raise RecordBroken(
            f"The job record {path} is damaged: {error}.",
            "Put the last good copy in its place; `jobs export` of another copy gives the jobs as text.",
        ) from error


def _hint(error: str) -> str:
    if "readonly" in error or "unable to open" in error:
        return "Make the file and its folder writable, or set data_dir to a folder that is."
    if "full" in error:
        return "Free some space; what was confirmed before is kept."
    if "locked" in error:
        return "Another program is writing to it; end that one, or try again."
    return "`handlamp jobs verify` says what is wrong with it."


def opened(path: Path, migrations: Sequence[Migration] = MIGRATIONS) -> sqlite3.Connection:
    """The record, made if there is none; nothing confirmed to a caller is lost by ending the process at any point.

    Raises:
        RecordError: it cannot be opened or written, or was written by a newer program; then it is left as it is.
        RecordBroken: it is damaged or no job record.

    """
    with translated(path):
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            _refuse_header(path, len(migrations))
        except OSError as error:
            raise RecordError(f"The job record {path} cannot be used: {error}.", _hint("readonly")) from error
        _refuse_journal(path, len(migrations))
        # by voice the turns are taken in a thread of their own, and the one that began it closes: never two at once
        connection = sqlite3.connect(path, timeout=BUSY_S, isolation_level=None, check_same_thread=False)
        try:
            _set_up(connection, path, migrations)
        except BaseException:
            connection.close()
            raise
    return connection


def _refuse_header(path: Path, newest: int) -> None:
    """Read without SQLite, which could tidy a file that is not ours to touch."""
    if not path.exists() or path.stat().st_size == 0:
        return
    with path.open("rb") as file:
        header = file.read(_HEADER_LENGTH)
    if not header.startswith(_MAGIC) or len(header) < _HEADER_LENGTH:
        raise RecordBroken(f"{path} is no job record.", "Move it away, or put the last good copy in its place.")
    _refuse_version(path, int.from_bytes(header[_USER_VERSION], "big"), newest)
    if int.from_bytes(header[_APPLICATION_ID], "big") not in (0, APPLICATION):
        raise RecordBroken(f"{path} belongs to another program.", "Move it away, or set another data_dir.")


def _refuse_journal(path: Path, newest: int) -> None:
    """A version that stands in the write-ahead journal only; opened so that the journal is not folded into the file."""
    if not os.path.exists(f"{path}-wal"):
        return
    with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True, timeout=BUSY_S)) as connection:
        _refuse_version(path, _version(connection), newest)


def _refuse_version(path: Path, version: int, newest: int) -> None:
    if version > newest:
        raise RecordError(
            f"The job record {path} is of version {version}; this program knows versions up to {newest}.",
            "Use the newer program; the file was left as it is.",
        )


def _version(connection: sqlite3.Connection) -> int:
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def _set_up(connection: sqlite3.Connection, path: Path, migrations: Sequence[Migration]) -> None:
    connection.execute("PRAGMA foreign_keys = ON")
    connection.execute("PRAGMA synchronous = FULL")
    version = _version(connection)
    if version == 0 and connection.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]:
        raise RecordBroken(f"{path} belongs to another program.", "Move it away, or set another data_dir.")
    connection.execute("PRAGMA journal_mode = WAL")
    if version < len(migrations):
        if version:
            _keep_copy(connection, path, version)
        _migrate(connection, migrations)
    # A transaction that writes nothing tells a read-only file now, and not at the first answer.
    with transaction(connection):
        pass


def _keep_copy(connection: sqlite3.Connection, path: Path, version: int) -> None:
    with closing(sqlite3.connect(path.with_name(f"{path.name}.v{version}"))) as copy:
        connection.backup(copy)


def _migrate(connection: sqlite3.Connection, migrations: Sequence[Migration]) -> None:
    with transaction(connection):
        for place in range(_version(connection), len(migrations)):
            migrations[place](connection)
            connection.execute(f"PRAGMA user_version = {place + 1}")
        connection.execute(f"PRAGMA application_id = {APPLICATION}")


@contextmanager
def transaction(connection: sqlite3.Connection) -> Iterator[None]:
    """All or nothing, and alone: the write lock is taken at once. When it has passed, the disk has it."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:  # SQLite has rolled back by itself when the disk is full
            connection.execute("ROLLBACK")
        raise
