"""A loudspeaker through a twin of the sound library: what it plays, and the ways in which it is lost."""

import sys
from types import ModuleType

import numpy as np
import pytest

from assistant.domain.sound import Sound
from assistant.errors import VoiceError
from assistant.rendering import loudspeaker
from assistant.rendering.loudspeaker import GONE_AFTER_S, Loudspeaker


class Clock:
    now = 100.0

    def monotonic(self):
        return self.now


class Stream:
    latency = 0.1

    def __init__(self, *, callback, samplerate, **_):
        self.callback, self.samplerate, self.active = callback, samplerate, False

    def start(self):
        self.active = True

    def close(self):
        self.active = False

    def ask(self, frames):
        out = np.zeros((frames, 1), dtype=np.int16)
        self.callback(out, frames, None, None)
        return out[:, 0]


@pytest.fixture
def library(monkeypatch):
    module = ModuleType("sounddevice")
    module.PortAudioError = type("PortAudioError", (Exception,), {})
    module.refuses = ""
    module.asked = []

    def query(device, kind):
        module.asked.append(device)
        if module.refuses:
            raise module.PortAudioError(module.refuses)
        return {"default_samplerate": 48_000.0}

    module.query_devices, module.OutputStream = query, Stream
    monkeypatch.setitem(sys.modules, "sounddevice", module)
    return module


@pytest.fixture
def clock(monkeypatch):
    made = Clock()
    monkeypatch.setattr(loudspeaker, "time", made)
    return made


SOUND = Sound(samples=np.full(4_800, 1_000, dtype=np.int16), rate_hz=48_000)


def test_what_is_queued_is_played_until_it_has_left_the_device(library, clock):
    out = Loudspeaker("2")
    assert library.asked == [2] and not out.playing
    out.play(SOUND)
    assert out.playing
    assert list(out._stream.ask(4_800)) == [1_000] * 4_800
    assert out.playing and out.heard().samples[-1] == 1_000
    clock.now += 0.25
    assert not out.playing


def test_stopped_it_is_silent_at_once(library, clock):
    out = Loudspeaker()
    out.play(SOUND)
    out.stop()
    assert not out.playing and not out._stream.ask(480).any()


def test_a_device_that_asks_for_nothing_any_more_is_gone_though_it_is_called_active(library, clock):
    out = Loudspeaker()
    out.play(SOUND)
    clock.now += GONE_AFTER_S - 0.5
    assert out.playing and not out.gone
    clock.now += 1.0
    assert out.gone and not out.playing
    with pytest.raises(VoiceError, match="is gone") as caught:
        out.play(SOUND)
    assert "printed" in caught.value.hint
    out._stream.ask(480)
    assert not out.gone


def test_a_device_that_has_ended_is_gone(library, clock):
    out = Loudspeaker()
    out.close()
    assert out.gone and not out.playing


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ("Error querying device -1", "there is none"),
        ("Error opening OutputStream: Device unavailable [PaErrorCode -9985]", "another program has it"),
    ],
)
def test_one_that_cannot_be_opened_says_why_in_plain_words(library, written, said):
    library.refuses = written
    with pytest.raises(VoiceError, match=said):
        Loudspeaker()
