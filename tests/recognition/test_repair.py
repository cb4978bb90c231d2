import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.recognition.readings import readings_in
from assistant.recognition.repair import Repair, Vocabulary, added_readings
from assistant.recognition.spoken_forms import codes_in, designations_in
from assistant.retrieval.passages import sentences_of_entry

WORDS = Vocabulary(
    ["The carriage climbs the mast.", "turntable pallet film brake sensor flag fuse photoeye two three eight"]
)


@pytest.mark.parametrize(
    ("heard", "added"),
    [
        ("the film tears at the palette", "pallet"),
        ("the break drags", "brake"),
        ("the turn table is slow", "turntable"),
        ("photo eye is dirty", "photoeye"),
        ("the censor is dirty", "sensor"),
    ],
)
def test_a_word_that_sounds_like_a_known_one_adds_it(heard, added):
    assert added in added_readings(heard, WORDS).split()


@pytest.mark.parametrize("heard", ["the carriage climbs the mast", "what is for dinner", "", "code 204", "FC3"])
def test_known_words_and_strangers_add_nothing(heard):
    assert added_readings(heard, WORDS) == ""


def test_a_word_that_is_said_already_is_not_added_again():
    assert added_readings("the brake, I mean the break", WORDS) == ""


@given(
    st.lists(
        st.sampled_from(
            "too for ate eight nein tree code fuse f c won two hundred point volts 204 24 V FC3 fc threes".split()
        ),
        max_size=8,
    )
)
def test_no_code_figure_or_designation_is_ever_added(words):
    text = " ".join(words)
    added = added_readings(text, WORDS)
    assert codes_in(added) == () and readings_in(added) == () and designations_in(added, {"FC3"}) == ()
    assert codes_in(f"{text} ({added})") == codes_in(text)


def test_the_authored_phrasings_need_no_repair_but_of_words_cut_in_two(knowledge):
    vocabulary = Vocabulary(
        text for e in knowledge.entries() for text in (e.title, *e.phrasings, *(s.text for s in sentences_of_entry(e)))
    )
    for text in (t for e in knowledge.entries() for t in e.phrasings[:1]):
        run_together = re.sub(r"[^a-z]", "", text.lower())
        assert all(word in run_together for word in added_readings(text, vocabulary).split()), text


def test_the_vocabulary_is_read_when_something_is_heard_and_only_once():
    read = []

    def texts():
        read.append(1)
        return ["pallet"]

    repair = Repair(texts)
    assert read == []
    assert [repair("the palette"), repair("a palet")] == ["pallet", "pallet"] and read == [1]
