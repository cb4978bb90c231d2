import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.dialogue.follow_up import is_follow_up
from assistant.dialogue.intake import MOST_CHARACTERS, clean
from assistant.dialogue.replies import Reply, reply_of
from assistant.domain.search import Query
from assistant.domain.turn import Conversation
from assistant.errors import BadQuestion


def test_escapes_and_control_characters_are_taken_out():
    assert clean("\x1b[31mwhy\x1b[0m is\x07 it\x1b]0;title\x07 dark\r\n").text == "why is it dark"


@pytest.mark.parametrize("raw", ["", "   \n", "\x1b[2J", "\x00\x01"])
def test_nothing_is_no_question(raw):
    with pytest.raises(BadQuestion):
        clean(raw)


def test_binary_is_no_question():
    with pytest.raises(BadQuestion):
        clean("\x7fELF\x02\x01\x01\x00\x00\ufffd\ufffd\x00\x03\x00>\x00\x01\x00\x00\x00")


def test_a_long_question_is_cut_and_says_so():
    utterance = clean("why " * 5000)
    assert len(utterance.text) == MOST_CHARACTERS and utterance.cut


@given(st.text(max_size=300))
def test_any_text_is_cleaned_or_refused(raw):
    try:
        text = clean(raw).text
    except BadQuestion:
        return
    assert text and "\x1b" not in text and "\n" not in text


@pytest.mark.parametrize(
    ("text", "reply"),
    [("yes", Reply.YES), ("Yep.", Reply.YES), ("done", Reply.YES), ("no", Reply.NO), ("not yet", Reply.NO),
     ("don't know", Reply.UNKNOWN), ("I think so", Reply.UNKNOWN), ("yes but why", None), ("no film on the roll", None),
     ("it is not dead", None)],
)  # fmt: skip
def test_only_a_bare_reply_is_a_reply(text, reply):
    assert reply_of(text) is reply


@pytest.mark.parametrize(("said", "reply"), [
    ("yes", Reply.YES), ("done", Reply.YES), ("no", Reply.NO), ("not yet", Reply.NO), ("don't know", Reply.UNKNOWN), ("not sure", Reply.UNKNOWN),
])  # fmt: skip
@given(st.sampled_from([str, str.upper, str.capitalize]), st.sampled_from(["", ".", "!", " ", "..."]), st.booleans())
def test_a_reply_is_the_same_however_it_is_written(said, reply, case, end, curly):
    text = case(said) + end
    assert reply_of(text.replace("'", "’") if curly else text) is reply


REPLY_WORDS = "yes ok done it is has i have haven't isn't don't know no not yet wait sure both maybe confirmed".split()
NEGATIONS = {"no", "not", "isn't", "haven't", "don't", "wait", "maybe"}


@given(st.lists(st.sampled_from(REPLY_WORDS), min_size=1, max_size=5))
def test_no_sentence_with_a_negation_or_a_doubt_is_a_yes(words):
    if NEGATIONS & set(words):
        assert reply_of(" ".join(words)) is not Reply.YES


def query(text, terms, **more):
    return Query(text=text, terms=terms, scope=None, **more)


def test_a_question_that_points_leans_on_the_last_subject():
    before = Conversation(focus="drumlin/procedure/set-chain-tension")
    assert is_follow_up("how tight should it be", query("", ("tight",)), before)
    assert is_follow_up("and how often", query("", ("often",)), before)
    assert not is_follow_up("where is FC3", query("", (), exact=("x",)), before)
    assert not is_follow_up("does it stop when the rear gate opens while wrapping", query("", tuple("abcdef")), before)
    assert not is_follow_up("how tight should it be", query("", ("tight",)), Conversation())
