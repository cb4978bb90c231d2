import json
import shutil
import sys

import numpy as np
import pytest

from assistant.errors import VoiceError
from assistant.rendering.voice_espeak import EspeakSpeaker, has_espeak
from assistant.rendering.voice_piper import WORKER, PiperSpeaker, packaged_voice

TWIN = """
import json, sys
out = sys.stdout.buffer
def reply(header, data=b""):
    out.write(json.dumps(header).encode() + b"\\n" + data); out.flush()
reply({"ready": True})
for line in sys.stdin:
    asked = json.loads(line)
    for word in asked["text"].split():
        if word == "die": sys.exit(3)
        reply({"rate_hz": 22050, "bytes": 4}, (len(word)).to_bytes(2, "little") * 2)
    reply({"end": True})
"""


@pytest.fixture
def twin(tmp_path):
    """The pipe's other end without an engine: each word is two samples of its length."""
    script = tmp_path / "twin.py"
    script.write_text(TWIN)
    speaker = PiperSpeaker(script, (sys.executable, str(script)))
    yield speaker
    speaker.close()


def spoken(speaker, text):
    return [int(sound.samples[0]) for sound in speaker.speak(text, 1.0)]


def test_each_piece_comes_over_the_pipe_in_order(twin):
    assert spoken(twin, "one three\nseven") == [3, 5, 5]


def test_a_listener_who_stops_early_leaves_the_pipe_in_order(twin):
    talking = twin.speak("a bb ccc dddd", 1.0)
    assert int(next(talking).samples[0]) == 1
    talking.close()
    assert spoken(twin, "xx") == [2]


def test_a_voice_that_ends_is_one_clear_error_and_stays_one(twin):
    with pytest.raises(VoiceError, match="has ended"):
        spoken(twin, "hello die")
    with pytest.raises(VoiceError, match="has ended"):
        spoken(twin, "again")


def test_closing_ends_the_process_and_no_other_way_is_needed(tmp_path):
    script = tmp_path / "twin.py"
    script.write_text(TWIN)
    speaker = PiperSpeaker(script, (sys.executable, str(script)))
    assert spoken(speaker, "a") == [1]
    speaker.close()
    assert speaker._process.returncode == 0
    speaker.close()


def test_a_program_that_is_not_there_is_a_clear_error(tmp_path):
    with pytest.raises(VoiceError, match="cannot be started"):
        PiperSpeaker(tmp_path, (str(tmp_path / "missing"),))


def test_the_engine_is_met_by_its_own_process_only():
    import ast

    tree = ast.parse(WORKER.read_text())
    names = {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names}
    names |= {node.module for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    assert not any(name.startswith("assistant") for name in names)
    for path in WORKER.parents[1].rglob("*.py"):
        if path != WORKER:
            assert "from piper" not in path.read_text() and "import piper" not in path.read_text(), path


def length_ms(speaker, text, pace):
    return sum(sound.length_ms for sound in speaker.speak(text, pace))


@pytest.mark.engine
@pytest.mark.skipif(packaged_voice() is None, reason="the extra voice-piper is not installed")
def test_piper_speaks_slower_when_told_to():
    speaker = PiperSpeaker(packaged_voice())
    try:
        speaker.wait_ready()
        sounds = list(speaker.speak("Lock off the isolator.", 1.0))
        assert sounds[0].rate_hz == 22_050 and int(np.abs(sounds[0].samples).max()) > 3000
        assert length_ms(speaker, "Lock off the isolator.", 0.6) > 1.3 * length_ms(
            speaker, "Lock off the isolator.", 1.2
        )
    finally:
        speaker.close()


@pytest.mark.engine
@pytest.mark.skipif(not has_espeak(), reason="espeak-ng is not installed")
def test_espeak_speaks_slower_when_told_to():
    speaker = EspeakSpeaker()
    assert length_ms(speaker, "Lock off the isolator.", 0.6) > 1.3 * length_ms(speaker, "Lock off the isolator.", 1.2)
    assert int(np.abs(next(speaker.speak("Stop.", 1.0)).samples).max()) > 1000


def test_without_the_program_espeak_says_so(monkeypatch):
    monkeypatch.setenv("PATH", "")
    assert shutil.which("espeak-ng") is None
    with pytest.raises(VoiceError, match="cannot speak"):
        list(EspeakSpeaker().speak("Stop.", 1.0))


def test_a_request_is_one_line_whatever_is_said(twin):
    assert json.dumps({"text": "a\nb"}).count("\n") == 0
    assert spoken(twin, "a\r\nb\u2028c") == [1, 1, 1]
