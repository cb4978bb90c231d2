import random
import signal
import subprocess
import sys
import time
from contextlib import closing

import pytest

from assistant.domain.job_events import NoteTaken, Opened
from assistant.records.database import opened
from assistant.records.ledger import open_ledger
from assistant.records.schema import MIGRATIONS
from tests.conftest import ROOT
from tests.records.test_migrations import version_1

WRITER = """
import sys
from pathlib import Path
from assistant.domain.job_events import NoteTaken
from assistant.records.ledger import open_ledger
from tests.records.story import at, begin, mark
print("begun", flush=True)
with open_ledger(Path(sys.argv[1])) as ledger:
    job = begin(ledger)
    print(job, flush=True)
    for n in range(100000):
        ledger.append(job, NoteTaken(text=f"{n} " + "x" * (n * 7919 % 9000)), at=at(2), who="ada", mark=mark())
        print(n, flush=True)
"""


@pytest.mark.parametrize("seed", range(5))
def test_kill_9_at_a_random_moment_loses_nothing_that_was_acknowledged(path, seed):
    writer = subprocess.Popen([sys.executable, "-c", WRITER, str(path)], cwd=ROOT, stdout=subprocess.PIPE, text=True)
    with writer:
        writer.stdout.readline()
        time.sleep(random.Random(seed).uniform(0.0, 0.5))
        writer.send_signal(signal.SIGKILL)
        acknowledged = writer.stdout.read().split("\n")
    assert acknowledged.pop() == ""
    with open_ledger(path) as ledger:
        written = ledger.verify()
        assert len(acknowledged) <= written <= len(acknowledged) + 1
        for job in ledger.ids():
            notes = [e.detail.text.split()[0] for e in ledger.events(job) if isinstance(e.detail, NoteTaken)]
            assert notes[: len(acknowledged) - 1] == acknowledged[1:]


STATEMENTS = """
import os, signal, sys
from pathlib import Path
from assistant.domain.job_events import NoteTaken
from assistant.records import database
from assistant.records.ledger import Ledger
from tests.records.story import at, begin, mark

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

database.sqlite3.connect = Connect(database.sqlite3.connect)
for n in range(1, int(sys.argv[2]) + 1):
    if os.fork() == 0:
        Connect.left = n
        folder = Path(sys.argv[1]) / str(n)
        folder.mkdir()
        told = os.open(folder / "told", os.O_CREAT | os.O_WRONLY)
        ledger = Ledger(database.opened(folder / "jobs.sqlite3"), folder, lambda pid: True)
        job = begin(ledger)
        os.write(told, b"opened\\n")
        for text in ("a", "b"):
            ledger.append(job, NoteTaken(text=text), at=at(2), who="ada", mark=mark())
            os.write(told, text.encode() + b"\\n")
        os._exit(7)
    print(os.waitstatus_to_exitcode(os.wait()[1]), flush=True)
"""


def test_kill_9_before_every_single_statement_loses_nothing_that_was_acknowledged(tmp_path):
    most = 72
    done = subprocess.run(
        [sys.executable, "-c", STATEMENTS, str(tmp_path), str(most)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    ends = [int(line) for line in done.stdout.split()]
    killed = ends.count(-signal.SIGKILL)
    assert 40 < killed < most and set(ends) == {-signal.SIGKILL, 7}, (
        "the kills must reach from the first to the last statement"
    )
    seen = set()
    for n in range(1, killed + 1):
        told = (tmp_path / str(n) / "told").read_text().split()
        seen.add(len(told))
        with open_ledger(tmp_path / str(n) / "jobs.sqlite3") as ledger:
            ledger.verify()
            texts = [
                "opened" if isinstance(e.detail, Opened) else e.detail.text
                for job in ledger.ids()
                for e in ledger.events(job)
            ]
        assert texts[: len(told)] == told and len(texts) <= len(told) + 1, n
    assert seen == {0, 1, 2}


def test_a_kill_in_the_middle_of_a_migration_leaves_a_version_that_opens(path):
    version_1(path)
    code = (
        "import os, signal, sys\nfrom pathlib import Path\nfrom assistant.records.database import opened\n"
        "from assistant.records.schema import MIGRATIONS\n"
        "def last(c):\n    MIGRATIONS[1](c)\n    os.kill(os.getpid(), signal.SIGKILL)\n"
        "opened(Path(sys.argv[1]), [MIGRATIONS[0], last])\n"
    )
    done = subprocess.run([sys.executable, "-c", code, str(path)], cwd=ROOT, capture_output=True)
    assert done.returncode == -signal.SIGKILL
    with closing(opened(path, MIGRATIONS[:1])) as connection:
        assert connection.execute("PRAGMA user_version").fetchone()[0] == 1
    with open_ledger(path) as ledger:
        assert ledger.verify() > 0
