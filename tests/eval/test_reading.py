import pytest

from eval.reading import grade_of, level_of, levels_of, long_sentence_table, reading_table, syllables_of, words_of_prose
from eval.wording.pronunciation import read_sounds

PLATYPUS = "The Australian platypus is seemingly a hybrid of a mammal and reptilian creature."


def test_the_published_example_has_its_published_grade():
    # Wikipedia, "Flesch-Kincaid readability tests": "is an 11.3 as it has 24 syllables and 13 words"
    assert len(words_of_prose(PLATYPUS)) == 13
    assert syllables_of(PLATYPUS, read_sounds()) == 24
    assert round(grade_of(13, 1, 24), 1) == 11.3


def test_the_published_averages_of_an_easy_book_have_their_published_grade():
    # the same article: 5.7 words a sentence and 1.02 syllables a word give a grade of -1.3
    assert round(grade_of(5700, 1000, 5700 * 102 // 100), 1) == -1.3


def test_the_lowest_grade_is_that_of_one_syllable_a_sentence():
    assert grade_of(1, 1, 1) == pytest.approx(0.39 + 11.8 - 15.59)  # the same article: -3.40


def test_longer_words_and_sentences_are_harder():
    assert grade_of(10, 1, 15) < grade_of(10, 1, 20) and grade_of(10, 1, 15) < grade_of(20, 1, 30)


def test_every_entry_that_tells_something_has_a_level_hardest_first(knowledge):
    levels = levels_of(knowledge)
    assert [x.grade for x in levels] == sorted((x.grade for x in levels), reverse=True)
    assert {x.entry for x in levels} >= {str(f.full_id) for f in (*knowledge.facts, *knowledge.faults)}
    assert len(reading_table(levels).rows) == len(levels)


def test_a_part_tells_nothing(knowledge):
    assert level_of(knowledge.parts[0], read_sounds()) is None


def test_a_sentence_that_its_figures_make_too_long_is_listed(knowledge):
    rows = long_sentence_table(levels_of(knowledge)).rows
    over = [int(words) - int(limit) for words, limit, _, _ in rows]
    assert over == sorted(over, reverse=True) and min(over) >= -1
