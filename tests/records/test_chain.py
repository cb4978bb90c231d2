import hashlib
import json
import sqlite3
from contextlib import closing

import pytest

from assistant.domain.job_events import NoteTaken
from assistant.errors import RecordBroken
from assistant.records.chain import Row, link
from assistant.records.ledger import open_ledger
from tests.records.story import begin, whole_story, write


@pytest.fixture
def two_jobs(path):
    """A record of two jobs, closed again; the second has three events."""
    with open_ledger(path, alive=lambda pid: True) as ledger:
        whole_story(ledger)
        write(ledger, begin(ledger), [NoteTaken(text="a"), NoteTaken(text="b")])
        assert ledger.verify() == ledger.state("2026-11-25-1").seq + 3
    return path


def tampered(path, *statements):
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        for statement in ("DROP TRIGGER event_stays", "DROP TRIGGER event_kept", *statements):
            connection.execute(statement)


def faults(path):
    with pytest.raises(RecordBroken) as caught, open_ledger(path) as ledger:
        ledger.verify()
    return caught.value.faults


def test_a_link_is_the_sha256_over_the_one_before_and_the_row():
    row = Row(row=1, job="j", seq=1, at="t", who="ü", kind="note-taken", body="{}")
    text = json.dumps(["0" * 64, 1, "j", 1, "t", "ü", "note-taken", "{}"])
    assert link("0" * 64, row) == hashlib.sha256(text.encode()).hexdigest()


@pytest.mark.parametrize("statement", ["UPDATE event SET who = 'eve'", "DELETE FROM event"])
def test_the_file_itself_refuses_to_change_or_lose_an_event(two_jobs, statement):
    with closing(sqlite3.connect(two_jobs)) as connection, pytest.raises(sqlite3.IntegrityError, match="never"):
        connection.execute(statement)


@pytest.mark.parametrize("column", ["at", "who", "body", "kind"])
def test_a_changed_event_is_named(two_jobs, column):
    tampered(two_jobs, f"UPDATE event SET {column} = replace({column}, substr({column}, 2, 1), 'Q') WHERE row = 7")
    assert "row 7 (job 2026-11-25-1, event 7) is not what was written" in faults(two_jobs)
    assert sum("not what was written" in fault for fault in faults(two_jobs)) == 1


def test_an_event_that_was_moved_to_another_job_is_named(two_jobs):
    tampered(two_jobs, "UPDATE event SET job = '2026-11-25-1', seq = 99 WHERE row = (SELECT max(row) FROM event)")
    assert any("event 99) is not what was written" in fault for fault in faults(two_jobs))


def test_lost_events_are_named_in_the_middle_and_at_the_end(two_jobs):
    tampered(two_jobs, "DELETE FROM event WHERE row IN (4, 5)")
    assert "rows 4 to 5 are missing" in faults(two_jobs)
    with closing(sqlite3.connect(two_jobs, isolation_level=None)) as connection:
        last = connection.execute("SELECT max(row) FROM event").fetchone()[0]
        connection.execute("DELETE FROM event WHERE row = ?", (last,))
    assert f"{last} rows were written, the last one there is row {last - 1}" in faults(two_jobs)


def test_a_whole_job_that_is_gone_is_noticed(two_jobs):
    tampered(
        two_jobs,
        "DELETE FROM event WHERE job = '2026-11-25-2'",
        "DELETE FROM lease",
        "DELETE FROM job WHERE id = '2026-11-25-2'",
    )
    assert any("rows were written" in fault for fault in faults(two_jobs))


def test_an_event_slipped_in_is_noticed(two_jobs):
    tampered(
        two_jobs,
        "INSERT INTO event SELECT max(row) + 1, '2026-11-25-2', 4, at, who, kind, body, chain FROM event WHERE seq = 3",
    )
    found = faults(two_jobs)
    assert any("event 4) is not what was written" in fault for fault in found)
    assert any("rows were written" in fault for fault in found)


def test_a_chain_computed_anew_is_told_by_a_seal_that_was_printed(two_jobs):
    with open_ledger(two_jobs) as ledger:
        printed = ledger.seals("2026-11-25-1")[-1]
    with closing(sqlite3.connect(two_jobs, isolation_level=None)) as connection:
        connection.execute("DROP TRIGGER event_stays")
        connection.execute("UPDATE event SET who = 'eve' WHERE row = 7")
        before = "0" * 64
        for row in connection.execute("SELECT row, job, seq, at, who, kind, body FROM event ORDER BY row").fetchall():
            before = link(
                before, Row(**dict(zip(("row", "job", "seq", "at", "who", "kind", "body"), row, strict=True)))
            )
            connection.execute("UPDATE event SET chain = ? WHERE row = ?", (before, row[0]))
        connection.execute("UPDATE seal SET chain = ?", (before,))
    with open_ledger(two_jobs) as ledger:
        ledger.verify()
        assert printed not in ledger.seals("2026-11-25-1")
