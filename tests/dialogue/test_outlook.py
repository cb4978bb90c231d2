import pytest

from assistant.dialogue.outlook import NAMED, KnowledgeOutlook
from assistant.domain.turn import Conversation


@pytest.fixture
def outlook(assistant):
    before = Conversation(scope="drumlin")
    return KnowledgeOutlook(assistant.knowledge, assistant.looked_up, lambda: before)


def test_a_reading_about_the_machine_is_likelier_than_one_about_nothing(outlook):
    chances = outlook(
        ["the turntable turns slowly with a heavy pallet", "the burn table burns slow with a heavy palette"]
    ).chances
    assert chances[0] > chances[1]


def test_a_wish_to_be_refused_is_about_the_knowledge_too(outlook):
    (chance,) = outlook(["can i bypass the gate switch for one shift"]).chances
    assert chance > 0.5


def test_terms_are_sentences_of_the_nearest_entries_the_nearest_last(outlook):
    terms = outlook(["the turntable turns slowly with a heavy pallet"]).terms
    assert 0 < len(terms) <= 2 * NAMED and all(term[-1] in ".?!" for term in terms)
    assert any("turntable" in term.lower() for term in terms[-2:])


@pytest.mark.parametrize("first", ["what is code 204", "where is FC3", "it reads 23.8 V", "power is back on"])
def test_what_is_read_back_is_settled(outlook, first):
    assert outlook([first, "where is the film"]).settled


def test_a_plain_question_is_not_settled_and_an_empty_reading_has_no_chance(outlook):
    found = outlook(["why does the film snap", ""])
    assert not found.settled and found.chances[1] == 0.0
