import pytest

from assistant.corpus.reader import read_knowledge
from eval.wording.pronunciation import read_sounds
from eval.wording.sayability import heard_as, names_table, sound_alikes, tables, unheard, words_table
from eval.wording.soundalikes import (
    Name,
    alike_names,
    alike_words,
    spoken_codes,
    spoken_designation,
    spoken_number,
    words_said,
)

SOUNDS = read_sounds()


def name(entry, text, *, named=True):
    return Name(entry=entry, text=text, named=named)


@pytest.mark.parametrize(
    ("code", "expected"),
    [
        ("204", ("two oh four", "two hundred and four")),
        ("115", ("one one five", "one hundred and fifteen", "one fifteen")),
        ("150", ("one five oh", "one hundred and fifty", "one fifty")),
        ("300", ("three oh oh", "three hundred")),
        ("E12", ()),
    ],
)
def test_a_code_is_said_in_each_of_the_usual_ways(code, expected):
    assert spoken_codes(code) == expected


def test_designations_and_numbers_are_said_as_letters_and_words():
    assert spoken_designation("FC13") == "f c thirteen" and spoken_designation("XD") == "x d"
    assert [spoken_number(n) for n in (0, 9, 10, 19, 20, 45)] == [
        "zero",
        "nine",
        "ten",
        "nineteen",
        "twenty",
        "forty five",
    ]


def test_figures_and_designations_are_no_words():
    assert words_said("Fuse FC3, 2 A, of the photo-eye's 24V rail") == (
        "fuse",
        "a",
        "of",
        "the",
        "photo-eye",
        "s",
        "rail",
    ) or ("photo-eye" in " ".join(words_said("Fuse FC3, 2 A, of the photo-eye 24V rail")))


def test_two_words_of_two_components_that_sound_alike_are_found_with_their_entries():
    (found,) = alike_words([name("a/component/MA1", "mast unit"), name("a/component/WT1", "mass sensor")], SOUNDS)
    assert {found.one, found.other} == {"mast", "mass"} and found.named
    assert (found.distance, found.share) == (1.0, 1 / 4)  # one sound of the four of mast
    assert {found.entries, found.other_entries} == {("a/component/MA1",), ("a/component/WT1",)}


def test_words_that_lead_to_the_same_entry_or_mean_the_same_do_no_harm():
    assert alike_words([name("a/component/X", "mast"), name("a/component/X", "mass")], SOUNDS) == ()
    assert alike_words([name("a/component/X", "fuse"), name("a/component/Y", "fuses")], SOUNDS) == ()
    assert alike_words([name("a/component/X", "mast"), name("b/component/Y", "mass")], SOUNDS) == ()
    both = [name("a/component/X", "mast"), name("a/component/Y", "mass")]
    assert alike_words(both, SOUNDS) and not alike_words(both, SOUNDS, {frozenset(("mast", "mass"))})


def test_shared_words_and_names_of_components_make_a_pair_more_dangerous():
    found = alike_words(
        [
            name("a/fact/P", "tail", named=False),
            name("a/fact/Q", "tall", named=False),
            name("a/component/X", "clamp valve"),
            name("a/component/Y", "lamp valve"),
            name("a/component/V", "bump bar"),
            name("a/component/W", "dump tap"),
        ],
        SOUNDS,
    )
    assert [(f.one, f.other, f.shared) for f in found] == [
        ("clamp", "lamp", 1),
        ("bump", "dump", 0),
        ("tail", "tall", 0),
    ]


def test_a_word_that_no_dictionary_says_is_compared_by_its_metaphone():
    (found,) = alike_words([name("a/component/X", "kontakter"), name("a/component/Y", "contactor")], SOUNDS)
    assert {found.one, found.other} == {"kontakter", "contactor"}


def test_whole_names_and_spoken_codes_that_sound_alike_are_found():
    found = alike_names([name("a/code/115", "one fifteen"), name("a/code/150", "one fifty")], SOUNDS)
    assert [(f.one, f.other) for f in found] == [("one fifteen", "one fifty")]
    assert alike_names([name("a/code/115", "one fifteen"), name("a/code/204", "two oh four")], SOUNDS) == ()


@pytest.mark.parametrize(
    ("word", "expected"), [("gearmotor", "gear motor"), ("amps", "amp"), ("plc", "p l c"), ("contactor", "")]
)
def test_what_a_missing_word_is_heard_as(word, expected):
    assert not SOUNDS.known(word)
    assert heard_as(word, SOUNDS, {"gear", "motor"}) == expected


def test_planted_words_are_found_in_a_knowledge(pack):
    facts = pack / "machines/tiny/facts.yaml"
    planted = facts.read_text() + facts.read_text().replace("id: gap", "id: cap").replace("The gap of", "The cap of")
    for old, new in (
        ("how near", "how flurbish"),
        ("what gap", "what cap"),
        ("sensor too", "sensing too"),
        ("distance to", "way to"),
    ):
        head, _, tail = planted.rpartition(old)
        planted = head + new + tail
    facts.write_text(planted)
    knowledge = read_knowledge(pack)
    (missing,) = [u for u in unheard(knowledge, SOUNDS) if u.word == "flurbish"]
    assert (missing.times, missing.entries) == (1, ("tiny/fact/cap",))
    names, words = sound_alikes(knowledge, SOUNDS)
    assert ("gap", "cap") in {(w.one, w.other) for w in words} | {(w.other, w.one) for w in words}
    assert names_table(names).rows and words_table(words).rows


def test_the_committed_knowledge_gives_every_table(knowledge):
    names, words, missing = tables(knowledge)
    assert "contactor" in {row[2] for row in missing.rows}
    assert ("brake", "break") in {row[2:4] for row in words.rows}
    assert ("b g one", "p g one") in {row[1:3] for row in names.rows}
