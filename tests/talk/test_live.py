"""The screen and the keys through prompt-toolkit with injected input and output; what is seen is read as rows."""

import threading
import time

import pytest
from prompt_toolkit.input import create_pipe_input
from prompt_toolkit.output import DummyOutput

from assistant.errors import SettingsError
from assistant.talk.conversation import Conversation, End, KeyDown, KeyUp
from assistant.talk.live import COMMAND_KEYS, LiveScreen, run_live
from assistant.talk.state import Understood


class Recorder(Conversation):
    """Keeps what is posted instead of acting on it."""

    def __init__(self):
        super().__init__(turns=None, screen=LiveScreen())
        self.posted = []

    def post(self, happened):
        if isinstance(happened, End):
            super().post(happened)
        else:
            self.posted.append(happened)


def posted(keys, key="space"):
    """What the keys bring, sent in parts so that an escape is one; ended with c-c."""
    recorder = Recorder()
    with create_pipe_input() as pipe:

        def press():
            for part in keys:
                pipe.send_text(part)
                time.sleep(0.02)
            pipe.send_text("\x03")

        thread = threading.Thread(target=press)
        thread.start()
        run_live(recorder, LiveScreen(), key, terminal={"input": pipe, "output": DummyOutput()})
        thread.join()
    return recorder.posted


def test_each_command_has_its_key():
    letters = [name for name in COMMAND_KEYS if len(name) == 1]
    assert posted(letters) == [Understood(text=COMMAND_KEYS[name]) for name in letters]


def test_the_key_to_talk_goes_down_and_what_is_held_is_not_pressed_again():
    assert posted([" ", " "]) == [KeyDown()]
    assert posted(["x"], key="x") == [KeyDown()]


def test_a_key_that_is_held_is_let_go_when_its_repeats_end(monkeypatch):
    now = iter(range(0, 10_000_000, 400))
    monkeypatch.setattr("assistant.talk.live._now_ms", lambda: next(now))
    assert posted([" ", " ", " ", *[""] * 30])[:2] == [KeyDown(), KeyUp()]


def test_a_typed_line_is_a_turn_and_its_letters_are_no_commands():
    assert posted(["t", "n b next to FC3", "\r"]) == [Understood(text="n b next to FC3")]
    assert posted(["t", "\r", "n"]) == [Understood(text="next")]


def test_a_key_that_is_none_is_a_clear_error():
    with create_pipe_input() as pipe, pytest.raises(SettingsError, match="no key `footpedal9000`"):
        run_live(Recorder(), LiveScreen(), "footpedal9000", terminal={"input": pipe, "output": DummyOutput()})
