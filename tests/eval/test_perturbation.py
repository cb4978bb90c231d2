from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.corpus.lint import normal
from assistant.recognition.spoken_forms import codes_in, designations_in
from eval.cases import SETS, read_cases
from eval.wording.mishearing import Ear, common_words, figures_as_words, spoken_kinds, word_as_letter
from eval.wording.perturbation import (
    FUNCTION_WORDS,
    NEGATIONS,
    Perturbation,
    clauses_turned,
    doubled_or_dropped,
    neighbour_key,
    neighbours_of,
    read_pairs,
    telegram,
    transposed,
    without_a_content_word,
    without_function_words,
    written_kinds,
)
from eval.wording.pronunciation import read_sounds

WORD = st.from_regex(r"[a-z]*(?:ab|er|st)[a-z]*", fullmatch=True)


@pytest.fixture(scope="module")
def ear(settings):
    from assistant.assembly import shelf_of

    return Ear(read_sounds(), common_words(shelf_of(settings).path("tokenizer")))


@pytest.fixture(scope="module")
def kinds(ear):
    return (*written_kinds(), *spoken_kinds(ear))


@pytest.fixture(scope="module")
def questions(knowledge):
    return [case.q for name in SETS for case in read_cases(SETS[name], knowledge)]


def test_every_kind_applies_somewhere_is_seeded_and_never_empty(kinds, questions):
    for kind in kinds:
        texts = [kind.apply(q, Random(f"3|{q}")) for q in questions[:700]]
        assert texts == [kind.apply(q, Random(f"3|{q}")) for q in questions[:700]], kind.name
        changed = [(q, t) for q, t in zip(questions, texts, strict=False) if t is not None]
        assert changed, kind.name
        assert all(normal(t) and t != q for q, t in changed), kind.name


def test_another_seed_gives_another_text(kinds, questions):
    kind = kinds[0]
    assert [kind.apply(q, Random(1)) for q in questions[:50]] != [kind.apply(q, Random(2)) for q in questions[:50]]


def test_codes_and_designations_stay_what_they_are(kinds, questions, knowledge):
    known = frozenset(c.id for c in knowledge.components) | frozenset(s.id for s in knowledge.signals)
    for kind in kinds:
        if kind.about_figures:
            continue
        for q in questions:
            text = kind.apply(q, Random(f"5|{q}"))
            if text is not None:
                assert sorted(m.digits for m in codes_in(text)) == sorted(m.digits for m in codes_in(q)), (
                    kind.name,
                    q,
                    text,
                )
                assert sorted(designations_in(text, known)) == sorted(designations_in(q, known)), (kind.name, q, text)


def test_codes_said_figure_by_figure_or_in_hundreds_are_still_those_codes(questions, knowledge):
    known = frozenset(c.id for c in knowledge.components)
    said = 0
    for q in questions:
        text = figures_as_words(q, Random(q))
        codes = {m.digits for m in codes_in(q)}
        plain = not designations_in(q, known) and "." not in q and all(code[1] == "0" for code in codes)
        if (
            text is not None and codes and plain
        ):  # a code such as 214 may be said "two fourteen", which is another matter
            said += 1
            assert codes <= {m.digits for m in codes_in(text)}, (q, text)
    assert said > 20


def test_a_change_of_a_figure_counts_as_not_applicable():
    liar = Perturbation(name="liar", what="", change=lambda text, chance: text.replace("204", "205"))
    assert liar.apply("code 204", Random(0)) is None
    empty = Perturbation(name="empty", what="", change=lambda text, chance: " ? ")
    assert empty.apply("why", Random(0)) is None


@given(WORD, st.integers(0, 99))
def test_a_typing_fault_is_one_edit(word, seed):
    near, swapped, other = (f(word, Random(seed)) for f in (neighbour_key, transposed, doubled_or_dropped))
    assert len(near) == len(word) and sum(a != b for a, b in zip(near, word, strict=True)) == 1
    assert sorted(swapped) == sorted(word) and sum(a != b for a, b in zip(swapped, word, strict=True)) == 2
    assert abs(len(other) - len(word)) == 1


def test_neighbours_touch_on_the_keyboard():
    assert sorted(neighbours_of("g")) == sorted("fhtyvb")
    assert sorted(neighbours_of("q")) == sorted("wa")
    assert all(
        letter in neighbours_of(other) for letter in "abcdefghijklmnopqrstuvwxyz" for other in neighbours_of(letter)
    )


def test_function_words_go_and_what_carries_the_meaning_stays():
    assert without_function_words("why does the brake not hold when it is off", Random(0)) == "brake not hold off"
    assert without_function_words("is it", Random(0)) is None
    assert not FUNCTION_WORDS & NEGATIONS


def test_one_content_word_goes_and_never_a_negation():
    told = {without_a_content_word("do not open the drive", Random(i)) for i in range(20)}
    assert told == {"do not the drive", "do not open the"}


def test_clauses_change_places():
    assert clauses_turned("the film tears when the table starts", Random(0)) == "when the table starts, the film tears"
    assert clauses_turned("no clause here", Random(0)) is None


def test_a_question_becomes_a_telegram():
    assert telegram("How do I set the gap of the brake, please?", Random(0)) == "set gap brake"
    assert telegram("What is FC3 for?", Random(0)) is None  # one word would be left


@pytest.mark.parametrize(
    ("name", "text", "expected"),
    [
        ("to American", "is the earth of the grey cable live", "is the ground of the gray cord hot"),
        ("to American", "earth leakage trips", "ground fault trips"),
        ("to British", "which wrench for the center bolt", "which spanner for the centre bolt"),
        ("to British", "what does the meter show", None),
    ],
)
def test_the_other_english(name, text, expected):
    kind = next(k for k in written_kinds() if k.name == name)
    assert kind.apply(text, Random(0)) == expected


def test_no_word_of_the_pairs_is_given_twice():
    both, one_way = read_pairs()
    for side in (0, 1):
        words = [pair[side] for pair in (*both, *(one_way if side == 0 else ()))]
        assert len(words) == len(set(words))


def test_homophones_are_common_words_of_the_same_sound(ear):
    assert ear.homophones("brake") == ("break",) and "right" not in ear.homophones("right")
    assert ear.homophones("xqzt") == () and "four" not in ear.homophones("fore")
    assert {"mask", "most"} <= set(ear.near_homophones("mast")) and "brake" not in ear.near_homophones("break")


def test_compounds_split_words_join_and_eyes_become_letters(ear):
    assert ear.split("the turntable overload", Random(0)) == "the turn table over load"
    assert ear.split("the shortest pallet", Random(0)) is None
    assert ear.joined("turn table stops", Random(0)) == "turntable stops"
    assert word_as_letter("photo eye is dark", Random(0)) == "photo I is dark"


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("FC3 blows", "f c three blows"),
        ("wait 15 min", "wait fifteen min"),
        ("3.15 slow blow", "three point one five slow blow"),
        ("1500 kg", "one five zero zero kg"),
        ("no figure", None),
    ],
)
def test_figures_are_said_as_words(text, expected):
    assert figures_as_words(text, Random(0)) == expected


def test_a_code_is_said_in_one_of_its_ways():
    assert {figures_as_words("code 204", Random(i)) for i in range(20)} == {
        "code two oh four",
        "code two hundred and four",
    }
