"""A microphone through a twin of the sound library: what it delivers, and each way in which it fails, said in plain words."""

import numpy as np
import pytest

from assistant.domain.sound import RATE_HZ, Sound
from assistant.errors import SoundError
from assistant.recognition import microphone
from assistant.recognition.microphone import MOST_WAITING, Microphone, devices, numbered, reason_of

BUSY = "Error opening InputStream: Device unavailable [PaErrorCode -9985]"


class Stream:
    def __init__(self, **wanted):
        self.wanted, self.started, self.closed = wanted, False, False

    def start(self):
        self.started = True

    def abort(self):
        self.closed = True

    def close(self):
        self.closed = True


class Library:
    """sounddevice as far as a microphone needs it; `rates` are those the device takes."""

    class PortAudioError(Exception):
        pass

    def __init__(self, rates=(16_000, 48_000), own=48_000, refuses="", unknown=""):
        self.rates, self.own, self.refuses, self.unknown = rates, own, refuses, unknown
        self.asked, self.stream = [], None

    def query_devices(self, device=None, kind=None):
        self.asked.append(device)
        if self.unknown:
            raise self.PortAudioError(self.unknown)
        return {"name": "headset", "default_samplerate": float(self.own)}

    def check_input_settings(self, *, samplerate, **_):
        if samplerate not in self.rates:
            raise self.PortAudioError("Invalid sample rate [PaErrorCode -9997]")

    def InputStream(self, **wanted):
        if self.refuses:
            raise self.PortAudioError(self.refuses)
        if wanted["samplerate"] not in self.rates:
            raise self.PortAudioError("Error opening InputStream: Invalid sample rate [PaErrorCode -9997]")
        self.stream = Stream(**wanted)
        return self.stream


def tone(rate_hz, seconds):
    return (0.5 * np.sin(2 * np.pi * 440 * np.arange(round(rate_hz * seconds)) / rate_hz)).astype(np.float32)


def deliver(ear, sound):
    ear._take(sound[:, None], len(sound), None, None)


@pytest.mark.parametrize(
    ("rates", "own", "taken"),
    [((16_000, 48_000), 48_000, 16_000), ((44_100,), 44_100, 44_100), ((8_000,), 8_000, 8_000)],
)
def test_a_device_that_cannot_give_the_rate_is_opened_at_its_own_and_resampled(rates, own, taken):
    library = Library(rates, own)
    ear = Microphone(library=library)
    assert library.stream.wanted["samplerate"] == taken and library.stream.started
    blocks, heard = ear.blocks(), []
    for part in np.array_split(tone(taken, 1.0), 20):
        deliver(ear, part)
    while sum(map(len, heard)) < 0.9 * RATE_HZ:
        heard.append(next(blocks))
    sound = np.concatenate(heard).astype(float)
    assert np.argmax(np.abs(np.fft.rfft(sound))) * RATE_HZ / len(sound) == pytest.approx(440, abs=3)


@pytest.mark.parametrize(
    ("library", "device", "said"),
    [
        (Library(refuses=BUSY), None, "another program has it"),
        (Library(unknown="Error querying device -1"), None, "there is none"),
        (Library(unknown="Error querying device 7"), "7", "`7`: there is none of that number"),
        (Library(unknown="No input device matching 'ear'"), "ear", "`ear`: there is none of that name"),
        (Library(unknown="Not an input device: 'speaker'"), "speaker", "it only plays"),
        (Library(rates=(), own=96_000), None, "no rate"),
        (Library(refuses="Something nobody knows yet."), None, "Something nobody knows yet."),
    ],
)  # fmt: skip
def test_a_microphone_that_cannot_be_opened_says_why_and_what_to_do(library, device, said):
    with pytest.raises(SoundError) as caught:
        Microphone(device, library)
    assert (
        said in caught.value.message and "\n" not in caught.value.message and "PaErrorCode" not in caught.value.message
    )
    assert "Type" in caught.value.hint and "audio devices" in caught.value.hint


def test_several_devices_of_one_name_are_one_line():
    assert (
        reason_of(ValueError("Multiple input devices found for 'usb':\n[1] usb one\n[2] usb two"))
        == "several have that name; give its number"
    )
    assert reason_of(ValueError("")) == "there is none"


def test_a_number_in_words_of_the_command_line_is_a_number():
    assert numbered("3") == 3 and numbered(3) == 3 and numbered("3d sound") == "3d sound" and numbered(None) is None
    library = Library()
    Microphone("3", library)
    assert library.asked == [3]


def test_one_that_gives_no_more_is_told_as_unplugged_and_given_back(monkeypatch):
    monkeypatch.setattr(microphone, "SILENT_AFTER_S", 0.05)
    library = Library()
    ear = Microphone(library=library)
    blocks = ear.blocks()
    deliver(ear, tone(16_000, 0.05))
    assert len(next(blocks)) == 800
    with pytest.raises(SoundError, match="headset gives no more sound: was it unplugged"):
        next(blocks)
    assert library.stream.closed


def test_a_program_that_hangs_drops_the_oldest_and_keeps_no_more_than_twenty_seconds():
    ear = Microphone(library=Library())
    for number in range(MOST_WAITING + 5):
        deliver(ear, np.full(800, number / 1000, dtype=np.float32))
    assert ear.dropped == 5
    first = next(ear.blocks())
    assert first[0] == round(5 / 1000 * 32767)


def test_closed_it_ends_its_blocks_even_when_nobody_took_any():
    ear = Microphone(library=Library())
    for _ in range(MOST_WAITING):
        deliver(ear, np.zeros(800, dtype=np.float32))
    ear.close()
    ear.close()
    assert list(ear.blocks()) == []


def test_the_list_that_cannot_be_made_is_said():
    library = Library(unknown="PortAudio not initialized")
    with pytest.raises(SoundError, match="cannot be listed"):
        devices(library)


def test_what_was_played_is_noted_when_a_block_comes_in_not_when_it_is_taken():
    played = [Sound(samples=np.full(10, number, dtype=np.int16)) for number in range(3)]
    ear = Microphone(library=Library())
    for sound in played:
        ear.played = lambda sound=sound: sound
        deliver(ear, np.zeros(800, dtype=np.float32))
    ear.played = lambda: None
    blocks = ear.blocks()
    for sound in played:
        next(blocks)
        assert ear.played_then is sound
