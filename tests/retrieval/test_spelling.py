import pytest

from assistant.domain.turn import Conversation
from assistant.domain.utterance import Utterance
from assistant.retrieval.spelling import Spelling

TEXTS = (
    "the film keeps snapping at the corners",
    "the turntable is slow with heavy loads",
    "the turntable drive",
    "film photo eye",
    "the photo eye sees the load",
    "megohm megohm",
)


@pytest.fixture(scope="module")
def spelling():
    return Spelling(lambda: TEXTS)


@pytest.mark.parametrize(
    ("typed", "read"),
    [("teh flim keeps snaping", "teh film keeps snapping"), ("turntbale slow", "turntable slow"), ("photoeye blind", "photo eye blind")],
)  # fmt: skip
def test_a_slip_is_read_as_the_word_of_the_knowledge(spelling, typed, read):
    assert spelling.mend(typed) == read


@pytest.mark.parametrize(
    "text", ["I weld the lathe", "flim3 and BG5x", "snappin' 230V", "film loads turntables", "isn't hers"]
)
def test_a_real_word_and_anything_with_a_figure_stay(spelling, text):
    assert spelling.mend(text) == text


def test_what_is_written_as_it_is_spoken_is_put_plainly(spelling):
    assert spelling.mend("the table willnae turn, hauf wey roon") == "the table will not turn, half way round"
    assert spelling.mend("SW2 wi-fi u/s") == "SW2 wi-fi u/s"


@pytest.mark.engine
def test_every_phrasing_of_the_knowledge_stays_as_it_is(assistant):
    mend = assistant.formulator._mend
    assert [t for e in assistant.knowledge.entries() for t in e.phrasings if mend(t) != t] == []


@pytest.mark.engine
def test_a_mistyped_question_finds_what_it_asks_and_shows_what_was_typed(assistant):
    typed = "turntbale slow with haevy loads"
    answer, _ = assistant.turn(Utterance(text=typed), Conversation(scope="drumlin"))
    assert answer.hits[0].entry == "drumlin/fault/turntable-slow" and answer.question == typed
