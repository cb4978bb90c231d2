import hashlib
import os
import shutil
import sqlite3
import tempfile
from contextlib import closing
from pathlib import Path

import msgspec
import pytest

from assistant.errors import RecordBroken, RecordError
from assistant.records.database import opened
from assistant.records.ledger import open_ledger
from assistant.records.replay import replayed
from assistant.records.schema import APPLICATION, MIGRATIONS
from tests.records.story import OPENING, STORY, begin, events_of, mark, whole_story, write

NEWEST = len(MIGRATIONS)


def pragma(path, name):
    with closing(sqlite3.connect(path)) as connection:
        return connection.execute(f"PRAGMA {name}").fetchone()[0]


def digest(path):
    return hashlib.sha256(path.read_bytes()).hexdigest()


def version_1(path):
    """A record as version 1 wrote it: no sha256, no leases, and a gap in its rows."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with closing(opened(path, MIGRATIONS[:1])) as connection:
        connection.execute("INSERT INTO job VALUES ('2026-11-25-1')")
        for event in events_of([OPENING, *STORY]):
            connection.execute(
                "INSERT INTO event VALUES (?, ?, ?, ?, ?, ?, ?)",
                (event.seq * 2, event.job, event.seq, event.at, event.who, event.detail.kind.value,
                 msgspec.json.encode(event.detail).decode()),
            )  # fmt: skip
    assert pragma(path, "user_version") == 1


def test_a_new_record_is_of_the_newest_version_and_says_whose_it_is(path):
    with open_ledger(path):
        pass
    assert pragma(path, "user_version") == NEWEST
    assert pragma(path, "application_id") == APPLICATION
    assert pragma(path, "journal_mode") == "wal"


def test_every_commit_waits_for_the_disk_and_references_are_held(path):
    with closing(opened(path)) as connection:
        full = 2
        assert connection.execute("PRAGMA synchronous").fetchone()[0] == full
        with pytest.raises(sqlite3.IntegrityError):
            connection.execute("INSERT INTO desk VALUES (1, 'no such job')")


def test_version_1_becomes_version_2_with_every_event_and_a_sound_chain(path):
    version_1(path)
    with open_ledger(path, alive=lambda pid: True) as ledger:
        assert ledger.verify() == 1 + len(STORY)
        assert ledger.state("2026-11-25-1") == replayed(events_of([OPENING, *STORY]))
        begin(ledger)
        assert ledger.verify() == 1 + len(STORY) + 1
    assert pragma(path, "user_version") == NEWEST


def test_the_older_file_is_kept_beside_the_migrated_one(path):
    version_1(path)
    with open_ledger(path):
        pass
    kept = path.with_name(path.name + ".v1")
    assert pragma(kept, "user_version") == 1
    with closing(sqlite3.connect(kept)) as connection:
        assert connection.execute("SELECT count(*) FROM event").fetchone()[0] == 1 + len(STORY)


def test_a_migration_that_fails_leaves_the_version_before_it(path):
    version_1(path)

    def breaks(connection):
        connection.execute("CREATE TABLE half (x)")
        raise sqlite3.OperationalError("planted")

    with pytest.raises(RecordError, match="planted"):
        opened(path, [*MIGRATIONS, breaks])
    assert pragma(path, "user_version") == 1
    with closing(sqlite3.connect(path)) as connection:
        tables = {row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    assert tables == {"job", "event"}


def test_a_newer_version_is_refused_and_not_a_byte_is_touched(path):
    with open_ledger(path, alive=lambda pid: True) as ledger:
        whole_story(ledger)
    with closing(sqlite3.connect(path)) as connection:
        connection.execute(f"PRAGMA user_version = {NEWEST + 1}")
    before, names = digest(path), sorted(os.listdir(path.parent))
    with pytest.raises(
        RecordError, match=f"version {NEWEST + 1}; this program knows versions up to {NEWEST}"
    ) as caught:
        opened(path)
    assert "newer program" in caught.value.hint
    assert digest(path) == before and sorted(os.listdir(path.parent)) == names


def test_a_newer_version_that_stands_in_the_journal_only_is_refused_too(path, tmp_path):
    with open_ledger(path):
        pass
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA wal_autocheckpoint = 0")
        connection.execute(f"PRAGMA user_version = {NEWEST + 5}")
        # As a newer program leaves it when it is killed: the file of before, and the journal beside it.
        crashed = tmp_path / "crashed" / path.name
        crashed.parent.mkdir()
        for ending in ("", "-wal"):
            crashed.with_name(crashed.name + ending).write_bytes(path.with_name(path.name + ending).read_bytes())
    journal = crashed.with_name(crashed.name + "-wal")
    before = digest(crashed), digest(journal)
    with pytest.raises(RecordError, match=f"version {NEWEST + 5}"):
        opened(crashed)
    assert (digest(crashed), digest(journal)) == before


@pytest.mark.parametrize(
    "content", [b"not a database, but long enough to hold a header" * 40, b"SQLite format 3\x00short", b"x"]
)
def test_what_is_no_record_is_refused_and_left(path, content):
    path.parent.mkdir(parents=True)
    path.write_bytes(content)
    with pytest.raises(RecordBroken, match="no job record"):
        opened(path)
    assert path.read_bytes() == content


def test_another_programs_database_is_refused_and_left(path):
    path.parent.mkdir(parents=True)
    for pragma_text in ("application_id = 7", "user_version = 0"):
        path.unlink(missing_ok=True)
        with closing(sqlite3.connect(path)) as connection:
            connection.execute(f"PRAGMA {pragma_text}")
            connection.execute("CREATE TABLE theirs (x)")
        before = digest(path)
        with pytest.raises(RecordBroken, match="another program"):
            opened(path)
        assert digest(path) == before


def test_a_file_damaged_in_the_middle_is_a_clear_error(path):
    with open_ledger(path, alive=lambda pid: True) as ledger:
        job = whole_story(ledger)
        for _ in range(20):
            begin(ledger)
    content = bytearray(path.read_bytes())
    for start in range(4096, len(content), 4096):
        content[start : start + 64] = b"\xff" * 64
    path.write_bytes(content)
    with pytest.raises(RecordError) as caught, open_ledger(path) as ledger:
        ledger.state(job)
    assert str(path) in caught.value.message and caught.value.hint


def test_a_file_cut_short_is_a_clear_error(path):
    with open_ledger(path, alive=lambda pid: True) as ledger:
        whole_story(ledger)
    path.write_bytes(path.read_bytes()[: 4096 * 2])
    with pytest.raises(RecordError), open_ledger(path) as ledger:
        ledger.verify()


def test_a_folder_in_its_place_is_a_clear_error(path):
    path.mkdir(parents=True)
    with pytest.raises(RecordError) as caught:
        opened(path)
    assert caught.value.hint


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="no users of that kind here")
def test_a_read_only_record_is_told_at_the_start():
    path = Path(tempfile.mkdtemp()) / "jobs.sqlite3"  # not tmp_path: its parents are closed to everybody else
    with open_ledger(path):
        pass
    folder = path.parent
    os.chmod(path, 0o444)
    os.chmod(folder, 0o555)
    before, root = digest(path), os.geteuid() == 0
    try:
        if root:  # root may write anything; be nobody for a moment
            os.seteuid(65534)
        with pytest.raises(RecordError, match="readonly|unable to open") as caught:
            opened(path)
        assert "writable" in caught.value.hint
    finally:
        if root:
            os.seteuid(0)
        unchanged = digest(path) == before
        shutil.rmtree(folder)
    assert unchanged


def test_a_write_that_another_program_blocks_is_told(path, monkeypatch):
    monkeypatch.setattr("assistant.records.database.BUSY_S", 0.05)
    with open_ledger(path) as ledger, closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(RecordError, match="locked") as caught:
            begin(ledger)
        assert "Another program" in caught.value.hint
        other.execute("ROLLBACK")
        job = begin(ledger)
        write(ledger, job, STORY[:3])
        assert ledger.verify() == 1 + 3


def test_a_full_disk_loses_nothing_that_was_confirmed(path):
    with open_ledger(path, alive=lambda pid: True) as ledger:
        job = whole_story(ledger)
        pages = ledger._connection.execute("PRAGMA page_count").fetchone()[0]
        ledger._connection.execute(f"PRAGMA max_page_count = {pages}")
        with pytest.raises(RecordError, match="full") as caught:
            for _ in range(1000):
                ledger.open_job(OPENING, date="2026-11-26", at="2026-11-26T08:00:00+01:00", who="x" * 500, mark=mark())
        assert "Free some space" in caught.value.hint
        assert ledger.state(job) == replayed(events_of([OPENING, *STORY]))
        ledger.verify()
