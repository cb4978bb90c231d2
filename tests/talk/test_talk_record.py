"""What is said aloud is kept in the job record as what is typed is."""

import threading
from dataclasses import replace

import pytest

from assistant.domain.job import JobStatus
from assistant.domain.utterance import Heard
from assistant.records.ledger import FILE, open_ledger
from assistant.talk_cli import TalkOptions, _Parts

pytestmark = pytest.mark.engine
SLOW = "guide me through the turntable turns slowly with heavy loads"


@pytest.fixture
def parts(assistant, settings, tmp_path):
    (tmp_path / "models").symlink_to(settings.data_dir / "models")
    own = replace(settings, data_dir=tmp_path, machine="drumlin")
    notes = []
    made = _Parts(assistant, own, TalkOptions(audio=(tmp_path / "none.wav",), silent=True), notes.append)
    yield made, tmp_path / FILE, notes
    made.close()


def heard(text, confidence=0.9):
    return Heard(text=text, confidence=confidence, engine="twin", start_ms=0, end_ms=900)


def jobs(path):
    with open_ledger(path) as ledger:
        return ledger.states()


def test_a_hunt_led_aloud_is_a_job_and_is_left_open_when_the_talk_ends(parts):
    made, path, notes = parts
    worker = threading.Thread(target=lambda: [made.turns.take(t, heard(t)) for t in (SLOW, "stopped", "yes")])
    worker.start()
    worker.join()
    made.close()
    (state,) = jobs(path)
    assert state.job.machine == "drumlin" and state.job.fault == "drumlin/fault/turntable-slow"
    assert state.job.status is JobStatus.LEFT_OPEN and state.energy == "stopped"


def test_what_waits_for_its_yes_is_not_in_the_record(parts):
    made, path, _ = parts
    made.turns.take(SLOW, heard(SLOW))
    made.turns.take("the machine is stopped", heard("the machine is stopped"))
    assert made.turns.reads_back
    (state,) = jobs(path)
    assert state.energy == "unknown"


def test_without_a_usable_record_the_talk_goes_on(assistant, settings, tmp_path):
    (tmp_path / "models").symlink_to(settings.data_dir / "models")
    (tmp_path / FILE).write_bytes(b"this is no record" * 100)
    notes = []
    own = replace(settings, data_dir=tmp_path, machine="drumlin")
    made = _Parts(assistant, own, TalkOptions(audio=(tmp_path / "none.wav",), silent=True), notes.append)
    assert any("Nothing is recorded" in note for note in notes)
    assert made.turns.take(SLOW, heard(SLOW)).outcome == "check"
    made.close()
