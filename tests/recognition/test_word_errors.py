import jiwer
import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.dialogue.hearing import SURE_REPLY
from assistant.domain.utterance import Heard
from eval.sound.hearing import HeardTrial
from eval.sound.trials import Kind, Trial
from eval.sound.words import error_rates, row, rows

WORDS = st.lists(st.sampled_from(["film", "fuse", "three", "next", "a"]), min_size=1, max_size=7).map(tuple)


def trial(said, heard, confidence=0.9, kind=Kind.COMMAND, snr_db=None):
    said = Trial(kind=kind, text=said, voice="v", snr_db=snr_db)
    return HeardTrial(
        trial=said, heard=Heard(text=heard, confidence=confidence, engine="t", start_ms=0, end_ms=1), elapsed_ms=5.0
    )


@given(st.lists(st.tuples(WORDS, WORDS), min_size=1, max_size=5))
def test_error_rates_are_those_of_the_other_implementation(pairs):
    said, heard = [" ".join(s) for s, _ in pairs], [" ".join(h) for _, h in pairs]
    assert error_rates(pairs) == pytest.approx((jiwer.wer(said, heard), jiwer.cer(said, heard)))


def test_a_next_heard_as_a_sure_yes_is_counted_and_an_unsure_one_is_not():
    found = row(
        "g",
        [trial("next", "yes"), trial("next", "yes", SURE_REPLY - 0.01), trial("yes", "Yes."), trial("next", "go on")],
        frozenset(),
    )
    assert found.wrong_yes == 1 and found.commands == 0.5 and found.wer is None


def test_figures_written_and_spoken_are_the_same_words_and_groups_are_by_noise_then_voice():
    found = rows(
        [trial("code two zero four", "Code 204.", kind=Kind.CODE), trial("next", "next", snr_db=10.0)],
        frozenset({"204"}),
    )
    assert (
        [r.group for r in found] == ["10 dB", "clean", "10 dB, v", "clean, v"]
        and found[1].figures_wer == 0.0
        and found[1].wer is None
    )
