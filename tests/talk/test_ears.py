import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from assistant.domain.sound import Expectation, Sound
from assistant.recognition.endpointing import Endpointer, Timing
from assistant.talk.ears import Began, Ears, Ended, SoFar
from tests.talk.twins import ScriptedDetector, ScriptedRecogniser, quiet, speech

TIMING = Timing(end_silence_ms=96, longest_ms=3000)


def ears_of(*texts, expecting=Expectation):
    recogniser = ScriptedRecogniser(*texts)
    return Ears(recogniser, Endpointer(ScriptedDetector(), TIMING), expecting), recogniser


def kinds(impressions):
    return [type(each) for each in impressions if not isinstance(each, SoFar)]


def test_an_utterance_begins_is_followed_and_ends():
    ears, _ = ears_of("where is it")
    heard = list(ears.accept(np.concatenate([quiet(3), speech(0), quiet(5)])))
    assert kinds(heard) == [Began, Ended] and heard[-1].heard.text == "where is it"
    assert SoFar(text="where") in heard


@given(st.lists(st.integers(1, 3000), min_size=1, max_size=40))
def test_the_size_of_the_blocks_changes_nothing(sizes):
    sound = np.concatenate([quiet(3), speech(0), quiet(6), speech(1), quiet(6)])
    ears, _ = ears_of("one", "two")
    blocks = np.split(sound, np.cumsum(sizes))
    heard = [each for block in blocks for each in ears.accept(block)]
    assert [each.heard.text for each in heard if isinstance(each, Ended)] == ["one", "two"]


def test_what_may_be_said_is_asked_when_speech_begins():
    phrases = iter((Expectation(phrases=("yes",)), Expectation(phrases=("next",))))
    ears, recogniser = ears_of("yes", "next", expecting=lambda: next(phrases))
    list(ears.accept(np.concatenate([speech(0), quiet(5), speech(1), quiet(5)])))
    assert [e.phrases for e in recogniser.expected] == [("yes",), ("next",)]


def test_a_recording_that_ends_in_speech_ends_the_utterance():
    ears, _ = ears_of("hello")
    assert kinds(ears.accept(speech(0))) == [Began]
    assert [each.heard.text for each in ears.finish()] == ["hello"]


def test_a_key_opens_the_ears_to_what_does_not_sound_like_speech():
    ears, _ = ears_of("soft")
    whisper = np.full(512 * 6, 400, dtype=np.int16)
    assert kinds(ears.accept(whisper)) == []
    assert kinds(ears.open()) == [Began] and ears.hearing
    list(ears.accept(whisper))
    (ended,) = ears.finish()
    assert isinstance(ended, Ended) and not ears.hearing


def test_a_key_that_is_held_hears_until_silence_after_speech_or_the_longest_time():
    ears, _ = ears_of("next")
    list(ears.open())
    heard = list(ears.accept(np.concatenate([speech(0), quiet(5)])))
    assert kinds(heard) == [Ended] and heard[-1].heard.text == "next" and not heard[-1].cut
    list(ears.open())
    cut = [each for each in ears.accept(quiet(700)) if isinstance(each, Ended)]
    assert len(cut) == 1 and cut[0].cut


def test_after_a_reset_what_was_being_said_is_forgotten():
    ears, _ = ears_of("lost", "kept")
    list(ears.accept(speech(0)))
    ears.reset()
    heard = list(ears.accept(np.concatenate([quiet(5), speech(1), quiet(5)])))
    assert [each.heard.text for each in heard if isinstance(each, Ended)] == ["kept"]


def test_the_own_voice_is_not_heard_while_it_is_played():
    hiss = np.random.default_rng(1).normal(0, 2000, 512 * 150).astype(np.int16)
    ears, _ = ears_of("echo")
    assert kinds(ears.accept(hiss, Sound(samples=hiss[:16_000]))) == []
    deaf, _ = ears_of("echo")
    assert kinds(deaf.accept(hiss[: 512 * 20])) == [Began]
