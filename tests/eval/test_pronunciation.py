import jellyfish
import pytest
from hypothesis import given
from hypothesis import strategies as st

from eval.wording.pronunciation import one_edit_keys, read_sounds, sound_distance

SOUNDS = read_sounds()
PHONEMES = st.lists(st.sampled_from(sorted(SOUNDS.classes)), max_size=6).map(tuple)


def test_the_dictionary_says_mast_and_mass_as_published():
    assert SOUNDS.words["mast"] == (("M", "AE", "S", "T"),)  # CMUdict: "mast M AE1 S T"
    assert SOUNDS.words["mass"] == (("M", "AE", "S"),)


@pytest.mark.parametrize(
    ("one", "other", "expected"),
    [
        ("mast", "mass", 1.0),  # T lost
        ("mast", "mask", 0.5),  # T for K, both stops
        ("brake", "break", 0.0),
        ("belt", "bolt", 0.5),  # EH for OW, both vowels
        ("top", "stop", 1.0),  # S gained
        ("gate", "brake", 0.5 + 1.0 + 0.5),  # G for B, R gained, T for K
    ],
)
def test_the_distance_of_two_words_is_counted_in_sounds(one, other, expected):
    assert sound_distance(SOUNDS.words[one][0], SOUNDS.words[other][0], SOUNDS.classes) == expected


@given(PHONEMES, PHONEMES)
def test_the_distance_is_a_symmetric_one_between_half_and_whole_the_edits(one, other):
    apart = sound_distance(one, other, SOUNDS.classes)
    codes = {p: chr(ord("a") + i) for i, p in enumerate(sorted(SOUNDS.classes))}
    edits = jellyfish.levenshtein_distance("".join(map(codes.get, one)), "".join(map(codes.get, other)))
    assert apart == sound_distance(other, one, SOUNDS.classes)
    assert edits / 2 <= apart <= edits
    assert (apart == 0) == (one == other)


@given(PHONEMES, PHONEMES)
def test_two_sequences_within_one_edit_share_a_key(one, other):
    codes = {p: chr(ord("a") + i) for i, p in enumerate(sorted(SOUNDS.classes))}
    edits = jellyfish.levenshtein_distance("".join(map(codes.get, one)), "".join(map(codes.get, other)))
    if edits <= 1:
        assert set(one_edit_keys(one)) & set(one_edit_keys(other))


def test_a_compound_of_two_known_words_is_said_as_both():
    assert not SOUNDS.known("gearmotor") and SOUNDS.halves("gearmotor") == ("gear", "motor")
    assert SOUNDS.pronounce("gearmotor") == SOUNDS.phrase(("gear", "motor")) != ()
    assert SOUNDS.pronounce("photo-eye") == SOUNDS.phrase(("photo", "eye"))


def test_a_word_that_cannot_be_said_has_no_pronunciation():
    assert SOUNDS.pronounce("xqzt") == () and not SOUNDS.known("xqzt") and not SOUNDS.known("-")


@pytest.mark.parametrize(
    ("word", "count"),
    [("platypus", 3), ("brake", 1), ("gearmotor", 3), ("PLC", 3), ("xylobrakes", 3), ("FC3", 3), ("V", 1)],
)
def test_syllables_are_counted_by_sound_by_letter_or_by_spelling(word, count):
    assert SOUNDS.syllables(word) == count
