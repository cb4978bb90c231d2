import threading
import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.rendering.spoken import SpokenKind, SpokenLine
from assistant.talk.mouth import LONG_PIECE, Mouth, pieces_of
from assistant.talk.state import Cue, Say
from tests.talk.twins import ListSink, ScriptedSpeaker


def say(text, ticket, upcoming=""):
    def line(words):
        return SpokenLine(text=words, shown=words, kind=SpokenKind.SENTENCE)

    return Say(line=line(text), pace=1.0, ticket=ticket, upcoming=line(upcoming) if upcoming else None)


class Heard:
    """What a mouth reports, waited for without a clock of its own."""

    def __init__(self):
        self.tickets, self.errors, self._come = [], [], threading.Condition()

    def said(self, ticket):
        with self._come:
            self.tickets.append(ticket)
            self._come.notify_all()

    def lost(self, error):
        self.errors.append(error)

    def wait_for(self, count):
        with self._come:
            return self._come.wait_for(lambda: len(self.tickets) >= count, timeout=10)


@pytest.fixture
def heard():
    return Heard()


def mouth_of(heard, speaker, sink):
    return Mouth(speaker, sink, heard.said, heard.lost)


def test_lines_are_said_in_order_and_reported(heard):
    speaker, sink = ScriptedSpeaker(), ListSink()
    mouth = mouth_of(heard, speaker, sink)
    mouth.say(say("One. Two.", 1))
    mouth.cue(Cue(text="Yes?"), 1.0)
    mouth.say(say("Three.", 2))
    assert heard.wait_for(2) and heard.tickets == [1, 2]
    mouth.close()
    assert [text for text, _ in speaker.said] == ["One.", "Two.", "Yes?", "Three."] and len(sink.played) == 4


def test_what_is_likely_next_is_made_ready_and_not_made_twice(heard):
    speaker, sink = ScriptedSpeaker(), ListSink()
    mouth = mouth_of(heard, speaker, sink)
    mouth.say(say("One.", 1, upcoming="Two. Three."))
    mouth.say(say("Two. Three.", 2))
    assert heard.wait_for(2)
    mouth.close()
    assert [text for text, _ in speaker.said] == ["One.", "Two.", "Three."]
    assert [len(sound.samples) for sound in sink.played] == [len("One."), len("Two."), len("Three.")]


def test_a_line_that_is_cut_is_silent_at_once_and_never_reported(heard):
    sink = ListSink(held=True)
    mouth = mouth_of(heard, ScriptedSpeaker(), sink)
    mouth.say(say("Endless.", 1))
    while not sink.played:
        time.sleep(0.001)
    mouth.silence()
    sink.held = False
    mouth.say(say("Short.", 2))
    assert heard.wait_for(1) and heard.tickets == [2]
    assert sink.stops >= 1
    mouth.close()


def test_lines_queued_before_a_silence_are_not_said(heard):
    speaker, sink = ScriptedSpeaker(), ListSink(held=True)
    mouth = mouth_of(heard, speaker, sink)
    mouth.say(say("First.", 1))
    mouth.say(say("Second.", 2))
    while not sink.played:
        time.sleep(0.001)
    mouth.silence()
    sink.held = False
    mouth.say(say("Third.", 3))
    assert heard.wait_for(1) and heard.tickets == [3]
    mouth.close()
    assert "Second." not in [text for text, _ in speaker.said]


def test_a_voice_that_is_lost_is_told_once_and_the_lines_go_on_in_silence(heard):
    mouth = mouth_of(heard, ScriptedSpeaker(fails_at="Two"), ListSink())
    for ticket, text in enumerate(("One.", "Two.", "Three."), start=1):
        mouth.say(say(text, ticket))
    assert heard.wait_for(3) and heard.tickets == [1, 2, 3]
    assert [error.message for error in heard.errors] == ["The voice is gone."] and mouth.silent
    mouth.close()


def test_without_a_voice_every_line_counts_as_said(heard):
    mouth = mouth_of(heard, None, None)
    mouth.say(say("One.", 1, upcoming="Two."))
    assert heard.wait_for(1)
    mouth.close()


@given(st.text(st.sampled_from("abC .,;:!?"), max_size=300))
def test_pieces_joined_are_the_line(text):
    assert " ".join(pieces_of(text)).split() == text.split()


def test_a_long_first_sentence_is_cut_once_at_a_comma():
    long = "Turning rollers, chains, belts and shafts can catch a glove or a sleeve and tear off an arm."
    assert len(long) > LONG_PIECE
    assert pieces_of(f"{long} Keep clear, always.") == (
        "Turning rollers,",
        long.removeprefix("Turning rollers, "),
        "Keep clear, always.",
    )
    assert pieces_of("Short, really.") == ("Short, really.",)
