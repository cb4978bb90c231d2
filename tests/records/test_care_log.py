import os
import signal
import sqlite3
import subprocess
import sys
from contextlib import closing

import pytest
from typer.testing import CliRunner

from assistant.cli import app
from assistant.errors import BadQuestion, RecordBroken, RecordError
from assistant.records.care import CareDone
from assistant.records.care_log import CareRow
from assistant.records.chain import BEGINNING, link
from assistant.records.database import opened
from assistant.records.ledger import open_ledger
from assistant.records.schema import MIGRATIONS
from tests.conftest import ROOT
from tests.records.story import begin, whole_story
from tests.records.test_migrations import digest, pragma

WEEKLY, MONTHLY = "drumlin/maintenance/weekly", "drumlin/maintenance/monthly"
CARES = (
    CareDone(task=WEEKLY, day="2026-01-31", hours=1000.0, cycles=50.0, who="x", at="2026-01-31T08:00:00+00:00"),
    CareDone(task=MONTHLY, day="2026-02-03", hours=None, cycles=None, who="Ünal", at="2026-02-03T16:30:00+01:00"),
    CareDone(task=WEEKLY, day="2026-02-07", hours=1041.3, cycles=None, who="x", at="2026-02-07T08:00:00+00:00"),
)
"""What stands in golden/version_3.sql."""
VERSION_3 = ROOT / "tests" / "records" / "golden" / "version_3.sql"
DONE_BEFORE_CHAINS = "INSERT INTO care (task, day, hours, cycles, who, at) VALUES (?, ?, ?, ?, ?, ?)"


def version_3(path):
    """A record that the program of version 3 wrote: two events of a job, three rows of maintenance."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with closing(sqlite3.connect(path)) as connection:
        connection.executescript(VERSION_3.read_text(encoding="utf-8"))
    assert pragma(path, "user_version") == 3


@pytest.fixture
def kept(path):
    """A record with a job and three rows of maintenance, closed again."""
    with open_ledger(path, alive=lambda pid: True) as ledger:
        whole_story(ledger)
        for done in CARES:
            ledger.note_care(done)
        ledger.verify()
    return path


def tampered(path, *statements):
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        for statement in ("DROP TRIGGER care_stays", "DROP TRIGGER care_kept", *statements):
            connection.execute(statement)


def faults(path):
    with pytest.raises(RecordBroken) as caught, open_ledger(path) as ledger:
        ledger.verify()
    return caught.value.faults


def test_what_the_program_of_version_3_wrote_is_taken_over_whole_and_chained(path):
    version_3(path)
    with open_ledger(path, alive=lambda pid: True) as ledger:
        assert ledger.cares() == CARES
        assert ledger.verify() == 2 and ledger.events("2026-11-25-1")[1].detail.text == "Grüße, 'quoted'\nsecond line"
        before = BEGINNING
        for place, done in enumerate(CARES, start=1):
            before = link(before, CareRow(row=place, done=done))
            assert ledger.care_seals()[place - 1] == before
        ledger.note_care(CARES[0])
        assert ledger.cares() == (*CARES, CARES[0]) and ledger.verify() == 2
    assert pragma(path, "user_version") == len(MIGRATIONS)
    copy = path.with_name(path.name + ".v3")
    assert pragma(copy, "user_version") == 3
    tampered(path, "UPDATE care SET day = '2026-01-01' WHERE row = 1")
    assert faults(path) == (f"maintenance: row 1 ({WEEKLY}, done 2026-01-01) is not what was written",)


@pytest.mark.parametrize("version", range(1, len(MIGRATIONS)))
def test_every_older_version_is_brought_up_and_takes_maintenance(path, version):
    path.parent.mkdir(parents=True)
    with closing(opened(path, MIGRATIONS[:version])) as connection:
        connection.execute("INSERT INTO job VALUES ('2026-11-24-1')")
        written = CARES if version >= 3 else ()
        for done in written:
            row = (done.task, done.day, done.hours, done.cycles, done.who, done.at)
            connection.execute(DONE_BEFORE_CHAINS, row)
    with open_ledger(path, alive=lambda pid: True) as ledger:
        assert ledger.cares() == written and "2026-11-24-1" in ledger.ids()
        ledger.note_care(CARES[1])
        assert ledger.cares() == (*written, CARES[1]) and len(set(ledger.care_seals())) == len(written) + 1


def test_the_program_of_version_3_refuses_version_4_and_touches_nothing(kept):
    before, names = digest(kept), sorted(os.listdir(kept.parent))
    with pytest.raises(RecordError, match="version 4; this program knows versions up to 3"):
        opened(kept, MIGRATIONS[:3])
    assert digest(kept) == before and sorted(os.listdir(kept.parent)) == names


@pytest.mark.parametrize("statement", ["UPDATE care SET who = 'eve'", "DELETE FROM care"])
@pytest.mark.parametrize("write", ["kept", "migrated"])
def test_the_file_itself_refuses_to_change_or_lose_maintenance(kept, tmp_path, statement, write):
    path = kept
    if write == "migrated":
        path = tmp_path / "old" / "jobs.sqlite3"
        version_3(path)
        with open_ledger(path):
            pass
    with closing(sqlite3.connect(path)) as connection, pytest.raises(sqlite3.IntegrityError, match="never"):
        connection.execute(statement)


@pytest.mark.parametrize(
    "change",
    [
        "task = 'x'",
        "day = '2026-01-01'",
        "hours = 1",
        "hours = NULL",
        "cycles = 51",
        "who = 'eve'",
        "at = ''",
        "who = x'00'",
    ],
)
def test_a_changed_row_is_named_and_only_that_one(kept, change):
    tampered(kept, f"UPDATE care SET {change} WHERE row = 1")
    (fault,) = faults(kept)
    assert fault.startswith("maintenance: row 1 (") and fault.endswith("is not what was written")


def test_lost_rows_are_named_in_the_middle_at_the_end_and_all_of_them(kept):
    tampered(kept, "DELETE FROM care WHERE row = 2")
    assert faults(kept) == ("maintenance: row 2 is missing",)
    with closing(sqlite3.connect(kept, isolation_level=None)) as connection:
        connection.execute("DELETE FROM care WHERE row = 3")
        assert "maintenance: 3 rows were written, the last one there is row 1" in faults(kept)
        connection.execute("DELETE FROM care")
        assert "maintenance: 3 rows were written, the last one there is row 0" in faults(kept)
        connection.execute("DELETE FROM care_seal")
    assert "maintenance: -1 rows were written, the last one there is row 0" in faults(kept)


def test_a_row_slipped_in_is_noticed(kept):
    tampered(kept, "INSERT INTO care SELECT 4, task, day, hours, cycles, who, at, chain FROM care WHERE row = 3")
    assert any("row 4 (" in fault for fault in faults(kept)) and any(
        "rows were written" in fault for fault in faults(kept)
    )


def test_a_chain_computed_anew_is_told_by_a_seal_that_was_kept(kept, monkeypatch):
    monkeypatch.setenv("HANDLAMP_DATA_DIR", str(kept.parent))
    with open_ledger(kept) as ledger:
        seal = ledger.care_seals()[-1]
    verify = lambda *given: CliRunner().invoke(app, ["jobs", "verify", *given])  # noqa: E731
    told = verify("--seal", seal).stdout
    assert "events and 3 of maintenance, all as they were written." in told and "maintenance 3 of 3" in told
    tampered(kept, "UPDATE care SET who = 'eve' WHERE row = 3")
    with open_ledger(kept) as ledger:
        changed = link(ledger.care_seals()[1], CareRow(row=3, done=ledger.cares()[2]))
    with closing(sqlite3.connect(kept, isolation_level=None)) as connection:
        connection.execute("UPDATE care SET chain = ? WHERE row = 3", (changed,))
        connection.execute("UPDATE care_seal SET chain = ?", (changed,))
    assert verify().exit_code == 0
    assert isinstance(verify("--seal", seal).exception, BadQuestion)


@pytest.mark.parametrize("hours", [0.0, -0.0, 1e-300, 1 / 3, 123456789012345.0, 7])
def test_a_counter_reads_back_as_its_sha256_has_it(ledger, hours):
    ledger.note_care(
        CareDone(task=WEEKLY, day="2026-01-31", hours=hours, cycles=None, who="x", at="2026-01-31T08:00:00Z")
    )
    ledger.verify()
    assert ledger.cares()[0].hours == hours


@pytest.mark.parametrize("hours", [float("nan"), float("inf")])
def test_a_counter_that_is_no_figure_is_refused_and_leaves_nothing(ledger, hours):
    with pytest.raises(RecordError, match="No counter reads"):
        ledger.note_care(
            CareDone(task=WEEKLY, day="2026-01-31", hours=hours, cycles=None, who="x", at="2026-01-31T08:00:00Z")
        )
    assert ledger.cares() == () and ledger.verify() == 0


KILLED = """
import os, signal, sys
from pathlib import Path
from assistant.records import database
from assistant.records.ledger import Ledger
from tests.records.test_care_log import CARES, version_3

class Connect:
    left = 0
    def __init__(self, real): self.real = real
    def __call__(self, *a, **k):
        connection = self.real(*a, **k)
        def killed(statement):
            Connect.left -= 1
            if Connect.left == 0:
                os.kill(os.getpid(), signal.SIGKILL)
        connection.set_trace_callback(killed)
        return connection

real = database.sqlite3.connect
for n in range(1, int(sys.argv[2]) + 1):
    folder = Path(sys.argv[1]) / str(n)
    folder.mkdir()
    version_3(folder / "jobs.sqlite3")
    if os.fork() == 0:
        database.sqlite3.connect = Connect(real)
        Connect.left = n
        told = os.open(folder / "told", os.O_CREAT | os.O_WRONLY)
        ledger = Ledger(database.opened(folder / "jobs.sqlite3"), folder, lambda pid: True)
        for done in CARES:
            ledger.note_care(done)
            os.write(told, b"x")
        os._exit(7)
    print(os.waitstatus_to_exitcode(os.wait()[1]), flush=True)
"""


def test_kill_9_before_every_statement_of_the_migration_and_the_writing_loses_nothing(tmp_path):
    most = 60
    done = subprocess.run(
        [sys.executable, "-c", KILLED, str(tmp_path), str(most)], cwd=ROOT, capture_output=True, text=True, check=True
    )
    ends = [int(line) for line in done.stdout.split()]
    killed = ends.count(-signal.SIGKILL)
    assert 25 < killed < most and set(ends) == {-signal.SIGKILL, 7}, (
        "the kills must reach from the first to the last statement"
    )
    seen = set()
    for n in range(1, killed + 1):
        told = tmp_path / str(n) / "told"
        acknowledged = len(told.read_text())
        seen.add(acknowledged)
        with open_ledger(tmp_path / str(n) / "jobs.sqlite3", alive=lambda pid: True) as ledger:
            assert ledger.verify() == 2
            cares = ledger.cares()
            assert cares[: 3 + acknowledged] == (*CARES, *CARES)[: 3 + acknowledged]
            assert len(cares) <= 3 + acknowledged + 1, n
            begin(ledger)
    assert seen == {0, 1, 2}
