import pytest

from assistant.domain.turn import Pending, PendingKind
from assistant.talk.commands import PHRASES, PRIMING, REPLIES, Command, after_wake_words, command_of, expectation


@pytest.mark.parametrize("command", list(Command))
def test_each_way_of_saying_a_command_is_that_command(command):
    for phrase in PHRASES[command]:
        for said in (phrase, f"{phrase.capitalize()}.", f"okay {phrase} please", f"{phrase}!"):
            assert command_of(said) is command, said
    assert command_of(str(command)) is command


@pytest.mark.parametrize(
    "text",
    ["the power is back on", "where am i to look for fc3", "stop the machine before i open it", "next to the relay", "", "the drive stops",
     "what comes back again after the stop", "it runs slower with a load", "is the fan louder than before", "please"],
)  # fmt: skip
def test_a_question_that_holds_a_command_word_is_no_command(text):
    assert command_of(text) is None


def test_a_command_said_twice_is_said_once():
    assert command_of("Next, next.") is Command.NEXT and command_of("stop stop stop") is Command.STOP
    assert command_of("next stop") is None


@pytest.mark.parametrize(
    ("text", "rest"),
    [("Hand lamp, where is FC3?", "where is FC3?"), ("Hands up, where is FC3?", "where is FC3?"), ("handlamp next", "next"), ("hey hand lamp. Stop!", "Stop!"), ("Hand lamp.", ""),
     ("And lamp, code 204", "code 204"), ("hand-lamp repeat", "repeat"), ("the hand lamp is broken", None), ("where is the hand lamp", None),
     ("hand me the lamp", None), ("", None)],
)  # fmt: skip
def test_the_wake_words_are_taken_off_at_the_beginning_only(text, rest):
    assert after_wake_words(text) == rest


def test_a_question_with_choices_expects_them_commands_and_replies_only():
    pending = Pending(kind=PendingKind.CHECK, text="How is it?", choices=("clear", "blocked"))
    phrases = expectation(pending, ("fuse",), awake=True).phrases
    assert phrases[:2] == ("clear", "blocked") and set(REPLIES) <= set(phrases)
    assert {phrase for each in PHRASES.values() for phrase in each} <= set(phrases)
    assert "one" in phrases and "two" in phrases and "three" not in phrases
    assert len(set(phrases)) == len(phrases)


def test_without_choices_anything_may_be_said_primed_with_the_terms():
    reading = Pending(kind=PendingKind.READING, text="How many volts?")
    for pending in (None, reading):
        expected = expectation(pending, ("fuse",), awake=True)
        assert expected.phrases == () and expected.terms == ("fuse",)


def test_an_open_microphone_may_hear_the_wake_words_before_a_choice():
    pending = Pending(kind=PendingKind.CONFIRM, text="Off?", choices=("yes", "no"))
    assert "hand lamp yes" in expectation(pending, (), awake=False).phrases
    assert "hand lamp yes" not in expectation(pending, (), awake=True).phrases


def test_a_recogniser_that_waits_for_the_wake_words_is_primed_with_them_first():
    assert expectation(None, ("fuse",), awake=False).terms == (PRIMING, "fuse")
    assert expectation(None, ("fuse",), awake=True).terms == ("fuse",)
    assert after_wake_words(f"{PRIMING} where is it") == "where is it"


def test_the_words_of_guided_work_are_expected_while_it_is_led():
    pending = Pending(kind=PendingKind.CHECK, text="How is it?", choices=("clear", "blocked"))
    assert {"why", "what else", "stop and keep"} <= set(expectation(pending, (), awake=True, guided=True).phrases)
    assert "why" not in expectation(pending, (), awake=True).phrases


def test_an_answer_can_be_led_by_commands_and_nothing_else_is_shut_out():
    told = expectation(None, (), awake=True, answered=True)
    commands = {phrase for each in PHRASES.values() for phrase in each}
    assert commands <= set(told.phrases) and not told.only
    assert not expectation(None, (), awake=True).phrases
    pending = Pending(kind=PendingKind.CHECK, text="?", choices=("yes", "no"))
    assert expectation(pending, (), awake=True, answered=True).only
